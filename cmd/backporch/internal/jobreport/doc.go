// Package jobreport says what happened in a job: to the machine's owner as a page and as a PDF,
// to other repairers as a bundle to post. All are renderings of one Model, so that they cannot
// disagree.
//
//	model, err := jobreport.New(ctx, store, id, jobreport.Options{})
//	err = model.HTML(w) // one file, no script, nothing fetched
//	err = model.PDF(w, jobreport.A4)
//	err = model.Post(files)
//
// Plain language comes first, the figures behind it. The page prints on A4 and Letter; its
// own colours hold on paper and keep apart in grey.
package jobreport
