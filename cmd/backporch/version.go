package main

import (
	"fmt"
	"runtime/debug"

	"github.com/spf13/cobra"
)

// version is set by the linker for a release.
var version = ""

// toolVersion is the tool's name and version, as it stands in stills and reports:
// a release's, else the revision that it was built from.
func toolVersion() string {
	if version != "" {
		return "backporch " + version
	}
	revision, changed := "", ""
	if info, ok := debug.ReadBuildInfo(); ok {
		for _, s := range info.Settings {
			switch {
			case s.Key == "vcs.revision" && len(s.Value) >= 12:
				revision = s.Value[:12]
			case s.Key == "vcs.modified" && s.Value == "true":
				changed = "+changes"
			}
		}
	}
	if revision == "" {
		return "backporch development"
	}
	return "backporch " + revision + changed
}

func newVersion(s *invocation) *cobra.Command {
	return &cobra.Command{
		Use:     "version",
		Short:   "Say which version this is",
		Long:    "Say which version this is, as it stands in stills and reports.\n\n" + failHelp,
		Example: "  backporch version",
		Args:    exactly(),
		RunE: func(*cobra.Command, []string) error {
			_, err := fmt.Fprintln(s.out, toolVersion())
			return err
		},
	}
}
