// Command mutants changes a package in every small way there is, one at a time,
// and counts the changes that no test of the package notices: comparisons turned
// round or moved to their edge, and for or, plus for minus, times for divided by,
// signs and nots left out, continue for break. All changes are compiled into the
// tests at once, each behind its number, so that trying one costs a run of those
// tests in which it makes a difference and no more.
package main

import (
	"bytes"
	"encoding/json"
	"flag"
	"fmt"
	"go/ast"
	"go/importer"
	"go/parser"
	"go/token"
	"go/types"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
)

var (
	workers    = flag.Int("workers", runtime.NumCPU(), "mutants tried at the same time")
	every      = flag.Int("every", 1, "try only every so-many-th mutant, as a sample")
	only       = flag.String("only", "", "try only the mutants of these files, parted by commas")
	also       = flag.String("also", "", "directories of further packages whose tests are asked where the package's own notice nothing, parted by commas")
	kept       = flag.String("earlier", "", "file in which the test that noticed a change is kept, to be asked first the next time")
	figures    = flag.Bool("constants", false, "change figures by 3 % up and down in place of operators")
	ask        = flag.String("ask", "deploy/mutants/questions.txt", "with -constants: command lines of the program, whose figures a change may move")
	sourceless = flag.String("sourceless", "deploy/mutants/sourceless.tsv", "with -constants: file of what stands for a source, see readRules")
	tests      = flag.String("run", "", "ask only the tests of this name, as go test -run takes it")
	argued     = flag.String("argued", "", "file of survivors that are argued: file, line, change and why, parted by tabs")
)

func main() {
	flag.Parse()
	if flag.NArg() != 1 {
		fmt.Fprintln(os.Stderr, "usage: mutants [flags] PACKAGE-DIRECTORY")
		os.Exit(2)
	}
	if err := run(filepath.Clean(flag.Arg(0))); err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
}

func run(dir string) error {
	work, err := os.MkdirTemp("", "mutants")
	if err != nil {
		return err
	}
	defer os.RemoveAll(work)
	changes, err := operate(dir, work)
	if err != nil {
		return err
	}
	if *figures {
		rules, err := readRules(*sourceless)
		if err != nil {
			return err
		}
		return weighFigures(os.Stdout, append([]string{dir}, others()...), work, changes, rules)
	}
	before, err := readEarlier(*kept)
	if err != nil {
		return err
	}
	t := trial{earlier: before, dirs: append([]string{dir}, others()...), work: work}
	if err := t.build(filepath.Join(work, "overlay.json")); err != nil {
		return err
	}
	var tried []change
	for i := 0; i < len(changes); i += *every {
		if *only == "" || slices.Contains(strings.Split(*only, ","), filepath.Base(changes[i].file)) {
			tried = append(tried, changes[i])
		}
	}
	r := results{dirs: t.dirs, all: len(changes), tried: tried, noticed: t.noticed(tried)}
	why, err := readArgued(*argued)
	if err != nil {
		return err
	}
	return r.write(os.Stdout, why)
}

// others are the further packages whose tests are asked.
func others() []string {
	return strings.FieldsFunc(*also, func(r rune) bool { return r == ',' })
}

// parsed are the files of a package but its tests, and their texts.
func parsed(fset *token.FileSet, dir string) (files []*ast.File, texts []string, err error) {
	names, err := filepath.Glob(filepath.Join(dir, "*.go"))
	if err != nil {
		return nil, nil, err
	}
	for _, name := range names {
		if strings.HasSuffix(name, "_test.go") {
			continue
		}
		text, err := os.ReadFile(name)
		if err != nil {
			return nil, nil, err
		}
		f, err := parser.ParseFile(fset, name, text, parser.SkipObjectResolution)
		if err != nil {
			return nil, nil, err
		}
		files, texts = append(files, f), append(texts, string(text))
	}
	return files, texts, nil
}

// operate writes the changed files of a package and the overlay that puts them
// in the place of its own.
func operate(dir, work string) (changes []change, err error) {
	fset := token.NewFileSet()
	files, texts, err := parsed(fset, dir)
	if err != nil {
		return nil, err
	}
	info := &types.Info{Types: map[ast.Expr]types.TypeAndValue{}, Defs: map[*ast.Ident]types.Object{}, Uses: map[*ast.Ident]types.Object{}}
	checker := types.Config{Importer: importer.ForCompiler(fset, "source", nil)}
	if _, err := checker.Check(dir, fset, files, info); err != nil {
		return nil, err
	}
	kept := keep(info, files)
	overlay := struct{ Replace map[string]string }{map[string]string{}}
	for i, f := range files {
		name := fset.Position(f.Package).Filename
		s := surgeon{fset: fset, info: info, file: name, here: dir, text: texts[i], lines: strings.Split(texts[i], "\n"), changes: &changes, kept: kept}
		s.insert(f.Name.End(), "; import \"benchtide/deploy/mutants/mutant\"")
		if *figures {
			s.constants(f)
		} else {
			s.walk(f)
		}
		s.insert(f.FileEnd, "\nvar _ = mutant.On\n")
		whole, err := filepath.Abs(name)
		if err != nil {
			return nil, err
		}
		overlay.Replace[whole] = filepath.Join(work, filepath.Base(name))
		if err := os.WriteFile(overlay.Replace[whole], []byte(s.operated(texts[i])), 0o644); err != nil {
			return nil, err
		}
	}
	text, err := json.Marshal(overlay)
	if err != nil {
		return nil, err
	}
	return changes, os.WriteFile(filepath.Join(work, "overlay.json"), text, 0o644)
}

// readArgued reads why survivors may live, by file, line and change.
func readArgued(name string) (map[string]string, error) {
	why := map[string]string{}
	if name == "" {
		return why, nil
	}
	text, err := os.ReadFile(name)
	if err != nil {
		return nil, err
	}
	for line := range bytes.Lines(text) {
		if cells := strings.Split(strings.TrimSpace(string(line)), "\t"); len(cells) == 4 {
			why[strings.Join(cells[:3], "\t")] = cells[3]
		}
	}
	return why, nil
}
