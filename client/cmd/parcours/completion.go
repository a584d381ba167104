package main

import (
	"fmt"
	"io"
	"strings"

	"github.com/alecthomas/kong"
)

// completionCommand prints what a shell needs to complete the command line.
type completionCommand struct {
	Shell string `arg:"" enum:"bash,zsh,fish" help:"bash, zsh or fish."`
}

// Help tells how the script is put to use; kong prints it.
func (completionCommand) Help() string {
	return "For this shell alone: source <(parcours completion bash), or parcours completion fish | source. " +
		"For all: put that line into ~/.bashrc or ~/.zshrc; the script for fish belongs into ~/.config/fish/completions/parcours.fish."
}

// Run prints the script, out of what the parser knows.
func (c *completionCommand) Run(s *session, parser *kong.Kong) error {
	model := parser.Model.Node
	switch c.Shell {
	case "fish":
		return fishScript(s.std.out, model)
	case "zsh":
		_, err := fmt.Fprintln(s.std.out, "autoload -U +X compinit bashcompinit && compinit && bashcompinit")
		if err != nil {
			return err
		}
	}
	return bashScript(s.std.out, model)
}

// visit calls visit for the command line and each command, with the words that lead to it.
func visit(node *kong.Node, path string, take func(path string, node *kong.Node)) {
	take(path, node)
	for _, child := range node.Children {
		visit(child, strings.TrimSpace(path+" "+child.Name), take)
	}
}

// children are the names of a node's commands.
func children(node *kong.Node) (names []string) {
	for _, child := range node.Children {
		names = append(names, child.Name)
	}
	return names
}

// flagsOf are the flags that can stand behind a node.
func flagsOf(node *kong.Node) (flags []*kong.Flag) {
	for _, group := range node.AllFlags(true) {
		flags = append(flags, group...)
	}
	return flags
}

// choices are the values that a flag or an argument can have; none where it may have any.
func choices(v *kong.Value) (all []string) {
	for _, choice := range strings.Split(v.Enum, ",") {
		if choice != "" {
			all = append(all, choice)
		}
	}
	return all
}

// bashScript writes a completion for bash: names of files where nothing else is known.
func bashScript(out io.Writer, model *kong.Node) error {
	var leads, words, flags, values strings.Builder
	seen := map[string]bool{}
	visit(model, "", func(path string, node *kong.Node) {
		for _, name := range children(node) {
			fmt.Fprintf(&leads, "      %q) at=%q ;;\n", path+"/"+name, strings.TrimSpace(path+" "+name))
		}
		named := children(node)
		for _, argument := range node.Positional {
			named = append(named, choices(argument)...)
		}
		fmt.Fprintf(&words, "    %q) words=%q ;;\n", path, strings.Join(named, " "))
		var all []string
		for _, f := range flagsOf(node) {
			all = append(all, "--"+f.Name)
			if list := choices(f.Value); len(list) > 0 && !seen[path+f.Name] {
				fmt.Fprintf(&values, "    %q) COMPREPLY=($(compgen -W %q -- \"$cur\")); return ;;\n", path+"/--"+f.Name, strings.Join(list, " "))
			} else if !f.IsBool() {
				fmt.Fprintf(&values, "    %q) return ;;\n", path+"/--"+f.Name)
			}
			seen[path+f.Name] = true
		}
		fmt.Fprintf(&flags, "    %q) flags=%q ;;\n", path, strings.Join(all, " "))
	})
	_, err := fmt.Fprintf(out, `_parcours() {
  local cur=${COMP_WORDS[COMP_CWORD]} prev=${COMP_WORDS[COMP_CWORD-1]} at="" words="" flags="" i
  if [[ $cur == "=" ]]; then cur=""; elif [[ $prev == "=" ]]; then prev=${COMP_WORDS[COMP_CWORD-2]}; fi
  for ((i = 1; i < COMP_CWORD; i++)); do
    case "$at/${COMP_WORDS[i]}" in
%s    esac
  done
  COMPREPLY=()
  case "$at/$prev" in
%s  esac
  case "$at" in
%s  esac
  case "$at" in
%s  esac
  if [[ $cur == -* ]]; then words=$flags; fi
  COMPREPLY=($(compgen -W "$words" -- "$cur"))
}
complete -o default -F _parcours parcours
`, leads.String(), values.String(), words.String(), flags.String())
	return err
}

// fishScript writes a completion for fish.
func fishScript(out io.Writer, model *kong.Node) error {
	var b strings.Builder
	visit(model, "", func(path string, node *kong.Node) {
		when := "__fish_use_subcommand"
		if path != "" {
			when = "__fish_seen_subcommand_from " + node.Name
		}
		for _, child := range node.Children {
			fmt.Fprintf(&b, "complete -c parcours -f -n %s -a %s -d %s\n", fishWord(when), child.Name, fishWord(child.Help))
		}
		for _, argument := range node.Positional {
			if list := choices(argument); len(list) > 0 {
				fmt.Fprintf(&b, "complete -c parcours -f -n %s -a %s\n", fishWord(when), fishWord(strings.Join(list, " ")))
			}
		}
		for _, f := range node.Flags {
			takes := ""
			if list := choices(f.Value); len(list) > 0 {
				takes = " -x -a " + fishWord(strings.Join(list, " "))
			} else if !f.IsBool() {
				takes = " -r"
			}
			if path == "" {
				fmt.Fprintf(&b, "complete -c parcours -l %s%s -d %s\n", f.Name, takes, fishWord(f.Help))
				continue
			}
			fmt.Fprintf(&b, "complete -c parcours -n %s -l %s%s -d %s\n", fishWord(when), f.Name, takes, fishWord(f.Help))
		}
	})
	_, err := io.WriteString(out, b.String())
	return err
}

// fishWord is a text as one word of fish.
func fishWord(text string) string {
	return "'" + strings.NewReplacer(`\`, `\\`, `'`, `\'`).Replace(text) + "'"
}
