package main

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// module is one that a build wants.
type module struct{ path, version, dir string }

// modules lists what packages are built of, but for this module.
func modules(t *testing.T, args ...string) (list []module) {
	t.Helper()
	cmd := exec.Command("go", append([]string{"list", "-deps", "-f", "{{with .Module}}{{.Path}}\t{{.Version}}\t{{.Dir}}{{end}}"}, args...)...)
	cmd.Env = append(os.Environ(), "CGO_ENABLED=0")
	out, err := cmd.Output()
	if err != nil {
		t.Fatal(err)
	}
	lines := strings.Split(strings.TrimSpace(string(out)), "\n")
	slices.Sort(lines)
	for _, line := range slices.Compact(lines) {
		if f := strings.Split(line, "\t"); len(f) == 3 && f[0] != "tarebook" {
			list = append(list, module{f[0], f[1], f[2]})
		}
	}
	return list
}

// licence returns the text of a module's licence and what it is by SPDX's list; it fails on one that it does not know.
func (m module) licence(t *testing.T) (text, name string) {
	t.Helper()
	for _, file := range []string{"LICENSE", "LICENSE.txt", "LICENSE.md", "COPYING", "COPYING.txt"} {
		b, err := os.ReadFile(filepath.Join(m.dir, file))
		if err != nil {
			continue
		}
		text = string(b)
		words := strings.Join(strings.Fields(text), " ")
		for _, known := range []struct{ name, words string }{
			{"Apache-2.0", "Apache License Version 2.0"},
			{"MPL-2.0", "Mozilla Public License Version 2.0"},
			{"MPL-2.0", "Mozilla Public License, version 2.0"},
			{"BSD-3-Clause", "may be used to endorse or promote products derived from this software without specific prior written permission"},
			{"BSD-2-Clause", "Redistribution and use in source and binary forms, with or without modification, are permitted"},
			{"MIT", "Permission is hereby granted, free of charge, to any person obtaining a copy"},
		} {
			if strings.Contains(words, known.words) {
				return text, known.name
			}
		}
	}
	t.Errorf("%s %s: its licence is not known; look at it, and whether its terms can be kept, before it is added here", m.path, m.version)
	return "", ""
}

// Every module that the program or a test is built of has a known licence; help notices has the text of each that is built in, and of Go's
// own. -update writes the page anew.
func TestNotices(t *testing.T) {
	goroot, err := exec.Command("go", "env", "GOROOT").Output()
	if err != nil {
		t.Skip("there is no go to list modules with")
	}
	for _, m := range modules(t, "-test", "../../...") {
		m.licence(t)
	}
	built := modules(t, ".")
	if len(built) < 5 {
		t.Fatalf("built in are only %v", built)
	}
	var head, texts strings.Builder
	head.WriteString("The licences of what is built in\n\nThe program is built of these modules, whose licences ask for their text to go along.\n\n")
	write := func(path, name, text string) {
		fmt.Fprintf(&texts, "\n---- %s (%s)\n\n%s\n", path, name, strings.TrimSpace(strings.NewReplacer("\t", "    ", "\r", "", "\f", "").Replace(text)))
	}
	for _, m := range append(built, module{"Go's standard library", "", strings.TrimSpace(string(goroot))}) {
		if _, err := os.Stat(filepath.Join(m.dir, "LICENSE")); err != nil && m.version == "" {
			t.Skip("this Go comes without its licence")
		}
		text, name := m.licence(t)
		fmt.Fprintln(&head, strings.TrimRight(fmt.Sprintf("  %-13s %s %s", name, m.path, m.version), " "))
		write(m.path, name, text)
	}
	want := folded(head.String()+texts.String(), 80)
	var lines []string
	for line := range strings.SplitSeq(want, "\n") {
		lines = append(lines, strings.TrimRight(line, " "))
	}
	want = strings.Join(lines, "\n")
	if helpPage("notices") == want {
		return
	}
	if !*update {
		t.Fatal("help notices is not what the modules are; write it anew with: go test ./cmd/tarebook -run Notices -update")
	}
	if err := os.WriteFile(filepath.Join("help", "notices.txt"), []byte(want), 0o666); err != nil {
		t.Fatal(err)
	}
}

// DEVELOPERS.md says of every module that is asked for what it is for, and of none that isn't.
func TestModulesAreListed(t *testing.T) {
	t.Parallel()
	mod, err := os.ReadFile("../../go.mod")
	if err != nil {
		t.Fatal(err)
	}
	text, err := os.ReadFile("../../DEVELOPERS.md")
	if err != nil {
		t.Fatal(err)
	}
	_, table, _ := strings.Cut(string(text), "\n## Modules\n")
	table, _, _ = strings.Cut(table, "\n## ")
	asked := 0
	for line := range strings.SplitSeq(string(mod), "\n") {
		path, version, ok := strings.Cut(strings.TrimSpace(line), " v")
		if !ok || strings.Contains(version, "indirect") || !strings.Contains(path, "/") {
			continue
		}
		asked++
		if !strings.Contains(table, "`"+path+"`") {
			t.Errorf("DEVELOPERS.md does not say what %s is for", path)
		}
	}
	if asked < 5 || strings.Count(table, "`golang.org/")+strings.Count(table, "`github.com/")+strings.Count(table, "`pgregory.net/")+strings.Count(table, "`gonum.org/") != asked {
		t.Errorf("%d modules are asked for; the table has others", asked)
	}
}
