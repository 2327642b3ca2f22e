// Trefoil checks the low-voltage AC cabling of on-site generation, written as text.
package main

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"os"
	"strings"

	"github.com/fatih/color"
	"github.com/spf13/cobra"

	"trefoil/lint/report"
)

const version = "0.1.0"

var tool = report.Tool{Name: "trefoil", Version: version}

// Exit codes: 0 nothing at or above the level asked for, 1 findings, 2 wrong
// usage, 3 could not do the work.
const (
	exitFindings = 1
	exitUsage    = 2
	exitFailed   = 3
)

// exit carries an exit code; a nil error is told already.
type exit struct {
	code int
	err  error
}

func (e *exit) Error() string {
	if e.err == nil {
		return ""
	}
	return e.err.Error()
}

func (e *exit) Unwrap() error { return e.err }

func usage(format string, args ...any) error { return &exit{exitUsage, fmt.Errorf(format, args...)} }

func failed(err error) error { return &exit{exitFailed, err} }

func main() {
	pace()
	os.Exit(run(os.Args[1:], os.Stdout, os.Stderr))
}

// run is the whole program: it gives the exit code.
func run(args []string, stdout, stderr io.Writer) int {
	counted := &counter{to: stdout}
	out := bufio.NewWriterSize(counted, 1<<16)
	root := commands(out)
	root.SetArgs(args)
	root.SetOut(out)
	root.SetErr(stderr)
	err := root.Execute()
	if err != nil && err.Error() != "" && counted.n == 0 && out.Buffered() == 0 && wantsJSON(args) {
		if e := report.WriteJSON(out, report.Failure{Version: report.Version, Tool: tool, Error: err.Error()}); e != nil {
			err = errors.Join(err, e)
		}
	}
	told := (*exit)(nil) // findings that nobody got to see are no outcome
	if e := out.Flush(); e != nil && (err == nil || errors.Is(err, e) || errors.As(err, &told) && told.code == exitFindings) {
		err = failed(fmt.Errorf("write the output: %w", e))
	}
	if err == nil {
		return 0
	}
	code := exitUsage // what cobra itself complains of
	if e := (*exit)(nil); errors.As(err, &e) {
		code = e.code
	}
	if text := err.Error(); text != "" {
		for i, line := range strings.Split(strings.TrimRight(text, "\n"), "\n") {
			if i == 0 {
				line = "trefoil: " + line
			}
			fmt.Fprintln(stderr, report.Clean(line))
		}
		if code == exitUsage {
			fmt.Fprintln(stderr, "trefoil help shows how it is used")
		}
	}
	return code
}

// counter counts what passes to a writer.
type counter struct {
	to io.Writer
	n  int
}

func (c *counter) Write(p []byte) (int, error) {
	n, err := c.to.Write(p)
	c.n += n
	return n, err
}

// wantsJSON says that a call asks for JSON, however wrong the rest of it is.
func wantsJSON(args []string) bool {
	for i, a := range args {
		if a == "--" {
			break
		}
		if a == "--format=json" || a == "--format" && i+1 < len(args) && args[i+1] == "json" {
			return true
		}
	}
	return false
}

func commands(out io.Writer) *cobra.Command {
	root := &cobra.Command{
		Use:   "trefoil",
		Short: "Check the low-voltage AC cabling of on-site generation, written as text",
		Long: `Trefoil reads a design - sources, boards, routes and runs, written in HCL - and
checks every AC cable between the inverters and the point of supply: what it may
carry as it is laid and among its neighbours, whether its device protects it against
overload, short circuits and earth faults, and how far the voltage rises or drops
along the whole path.

It is an aid. Local codes and the licensed person responsible decide. Not checked are
workmanship, labels, direct current, running as an island, IT systems, and whatever
the pages of the rules name under "does not see".`,
		Example: `  trefoil new my-site             a commented design to begin with
  trefoil check my-site           find what is wrong in it
  trefoil calc my-site inv-1      the working of one run
  trefoil choices my-site inv-1   what else it could be, and what that costs
  trefoil compare my-site main    what an edit did to the installation
  trefoil schedule my-site        its cables, to buy and draw in
  trefoil report --out a.html     all of it as one document
  trefoil explain run-overloaded  what a rule looks at`,
		Version:       version,
		SilenceUsage:  true,
		SilenceErrors: true,
	}
	root.SetVersionTemplate("trefoil {{.Version}}\n")
	root.SetFlagErrorFunc(func(_ *cobra.Command, err error) error { return &exit{exitUsage, err} })
	root.SetHelpCommand(&cobra.Command{
		Use: "help [COMMAND]", Short: "Show how a command is used",
		RunE: func(_ *cobra.Command, args []string) error {
			c, rest, err := root.Find(args)
			if err != nil || len(rest) > 0 {
				return usage("no command is named %q", strings.Join(args, " "))
			}
			return c.Help()
		},
	})
	root.AddCommand(
		checkCommand(out), calcCommand(out), choicesCommand(out), compareCommand(out), scheduleCommand(out), drawCommand(out), reportCommand(out),
		explainCommand(out), tablesCommand(out), alignCommand(out), amendCommand(out), schemaCommand(out), newCommand(out),
	)
	return root
}

// format is the value of --format.
type format struct {
	oneOf
	json bool
}

func (f *format) Set(s string) error {
	if err := f.oneOf.Set(s); err != nil {
		return err
	}
	f.json = s == "json"
	color.NoColor = color.NoColor || s != "text"
	return nil
}

// withFormat gives a command --format, with the forms that it has besides text and JSON.
func withFormat(c *cobra.Command, f *format, more ...string) {
	f.oneOf = oneOf{value: "text", words: append([]string{"text", "json"}, more...)}
	c.Flags().Var(f, "format", "how to write the result")
	_ = c.RegisterFlagCompletionFunc("format", cobra.FixedCompletions(f.words, cobra.ShellCompDirectiveNoFileComp))
}
