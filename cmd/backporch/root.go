package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"

	"backporch/cmd/backporch/internal/report"
	"backporch/cmd/backporch/internal/term"
)

// The exit statuses, the same for every command.
const (
	statusClean        = 0
	statusFault        = 1
	statusFailed       = 2
	statusUndetermined = 3
)

// statusHelp ends the help of commands that give a verdict, failHelp that of the others.
const (
	statusHelp = `Exit status:
  0  done, and nothing wrong
  1  done, a fault was found
  2  could not run: usage, input or device
  3  done, but the capture does not settle it`
	failHelp = `Exit status:
  0  done
  2  could not run: usage, input or device`
)

// An invocation is one run of the program: its streams and its outcome.
type invocation struct {
	out, err io.Writer
	status   int
}

// style is how text is laid out on the result stream.
func (s *invocation) style() report.Style {
	return report.Style{Colour: term.Colour(s.out), Width: term.Width(s.out)}
}

// run is the whole program, less the process: it returns the exit status.
func run(ctx context.Context, args []string, out, errOut io.Writer) int {
	s := &invocation{out: out, err: errOut}
	root := newRoot(s)
	root.SetArgs(args)
	root.SetOut(out)
	root.SetErr(errOut)
	err := root.ExecuteContext(ctx)
	if err == nil {
		return s.status
	}
	if ctx.Err() != nil && errors.Is(err, ctx.Err()) {
		err = errors.New("interrupted")
	}
	message, more, _ := strings.Cut(err.Error(), "\n")
	fmt.Fprintf(errOut, "backporch: %s\n", message)
	var h *hinted
	switch {
	case errors.As(err, &h):
		fmt.Fprintf(errOut, "backporch: hint: %s\n", h.hint)
	case strings.Contains(more, "Did you mean"): // cobra's suggestion for a command
		words := strings.Fields(strings.TrimPrefix(strings.TrimSpace(more), "Did you mean this?"))
		fmt.Fprintf(errOut, "backporch: hint: did you mean %s?\n", strings.Join(words, " or "))
	}
	return statusFailed
}

// hinted is an error that the user can act on.
type hinted struct {
	error
	hint string
}

func (h *hinted) Unwrap() error { return h.error }

// withHint adds what to do about err.
func withHint(err error, format string, args ...any) error {
	return &hinted{err, fmt.Sprintf(format, args...)}
}

func newRoot(s *invocation) *cobra.Command {
	root := &cobra.Command{
		Use:   "backporch",
		Short: "Read faults of 8-bit home computers from their composite picture",
		Long: `Backporch reads faults of 8-bit home computers from a capture of their composite
picture: which memory bit, video logic, or only the signal path, how sure, what is
proved good, and what to test next.`,
		Example: `  backporch demo
  backporch check capture.avi --display attr-256x192-50 --out evidence`,
		SilenceUsage:  true,
		SilenceErrors: true,
	}
	root.SetFlagErrorFunc(func(c *cobra.Command, err error) error {
		return withHint(err, "%s --help shows the flags", c.CommandPath())
	})
	root.SetUsageTemplate(usage)
	root.CompletionOptions.SetDefaultShellCompDirective(cobra.ShellCompDirectiveDefault)
	root.AddCommand(
		newDemo(s), newDevices(s), newCheck(s), newCompare(s), newGrab(s), newRead(s), newSignal(s), newWaveform(s), newWatch(s), newSoak(s), newPowerup(s), newSimulate(s), newDisplay(s), newJob(s), newPart(s),
		newVersion(s),
	)
	root.AddCommand(newKnown()) // a topic of help
	return root
}

// usage is the layout of help; flags last, since examples teach faster.
const usage = `Usage:{{if .Runnable}}
  {{.UseLine}}{{end}}{{if .HasAvailableSubCommands}}
  {{.CommandPath}} COMMAND{{end}}{{if .HasExample}}

Examples:
{{.Example}}{{end}}{{if .HasAvailableSubCommands}}

Commands:{{range .Commands}}{{if .IsAvailableCommand}}
  {{rpad .Name .NamePadding}} {{.Short}}{{end}}{{end}}{{end}}{{if .HasAvailableLocalFlags}}

Flags:
{{.LocalFlags.FlagUsages | trimTrailingWhitespaces}}{{end}}{{if .HasAvailableSubCommands}}

{{.CommandPath}} COMMAND --help says more about a command.{{end}}
`

// exactly wants n arguments, named for the message.
func exactly(names ...string) cobra.PositionalArgs {
	return func(c *cobra.Command, args []string) error {
		path := strings.TrimPrefix(c.CommandPath(), c.Root().Name()+" ")
		if len(args) < len(names) {
			return withHint(fmt.Errorf("%s: no %s given", path, strings.Join(names[len(args):], " and no ")),
				"%s", c.UseLine())
		}
		if len(args) > len(names) {
			return withHint(fmt.Errorf("%s: %q is one argument too many", path, args[len(names)]),
				"%s", c.UseLine())
		}
		return nil
	}
}
