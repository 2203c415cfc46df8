package main

import (
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"backporch/patterns/workbench"
)

// newKnown is a topic of help: what --known understands.
func newKnown() *cobra.Command {
	var b strings.Builder
	b.WriteString(`What the user knows beside the picture enters the sum as --known KEY=VALUE, once for each
fact. It moves weight between the faults, and between the chip, the socket, the track and
what else can hold a lane; what was done already is not advised again. BITS are data
bits with commas between; colour stands for the colour memory, and with --board a part's
designator for its bits. Without :BITS a fact holds for all of them.

Cooling, warming, pressing and reseating one part is measured by 'backporch watch': a
mark such as 'cooled U14' compares the bad fields before it and after, and 'check --job'
takes the counts into the sum.
`)
	key := ""
	for _, k := range workbench.KnownKeys() {
		if next, _, _ := strings.Cut(k.Text, "="); next != key {
			key = next
			b.WriteString("\n")
		}
		fmt.Fprintf(&b, "  %-38s %s\n", k.Text, k.Help)
	}
	return &cobra.Command{Use: "known", Short: "What --known understands", Long: strings.TrimRight(b.String(), "\n")}
}

// knownSummary lists the keys with their values, a key a line where it fits.
func knownSummary() string {
	var keys []string
	values := map[string][]string{}
	for _, k := range workbench.KnownKeys() {
		key, value, _ := strings.Cut(k.Text, "=")
		if values[key] == nil {
			keys = append(keys, key)
		}
		values[key] = append(values[key], value)
	}
	var lines []string
	for _, key := range keys {
		line := "  " + key + "="
		margin := len(line)
		for i, v := range values[key] {
			if i > 0 {
				v = "|" + v
			}
			if len(line)+len(v) > 88 {
				lines = append(lines, line)
				line = strings.Repeat(" ", margin)
			}
			line += v
		}
		lines = append(lines, line)
	}
	return strings.Join(lines, "\n")
}
