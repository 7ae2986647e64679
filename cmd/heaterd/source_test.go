package main

import (
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// impureCalls are functions of package time that read a clock or wait.
var impureCalls = []string{"Now", "Since", "Until", "Sleep", "After", "AfterFunc", "NewTimer", "NewTicker", "Tick"}

// vague are package names that say nothing and so draw everything.
var vague = []string{"util", "utils", "common", "models", "helpers", "types", "base", "misc", "shared"}

// sleepers are functions of tests that call time.Sleep where it cannot be
// seen that they run in a bubble of synctest.Test, each with its reason.
var sleepers = map[string]string{
	"alerts/notify.wait": "only called within the bubble of inOffice",
}

// file is a parsed source file.
type file struct {
	*ast.File
	fset *token.FileSet
}

func (f file) position(p token.Pos) string {
	at := f.fset.Position(p)
	return fmt.Sprintf("%s:%d", filepath.Join(filepath.Base(filepath.Dir(at.Filename)), filepath.Base(at.Filename)), at.Line)
}

func parsed(t *testing.T, dir string, names []string) []file {
	t.Helper()
	var out []file
	for _, n := range names {
		fset := token.NewFileSet()
		f, err := parser.ParseFile(fset, filepath.Join(dir, n), nil, parser.ParseComments|parser.SkipObjectResolution)
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, file{f, fset})
	}
	return out
}

// nameOf gives the name by which a file knows an imported package; empty
// where it does not import it.
func (f file) nameOf(path string) string {
	for _, i := range f.Imports {
		if got, _ := strconv.Unquote(i.Path.Value); got != path {
			continue
		}
		if i.Name != nil {
			return i.Name.Name
		}
		return path[strings.LastIndex(path, "/")+1:]
	}
	return ""
}

// uses lists the selectors on an imported package below n.
func (f file) uses(n ast.Node, path string, names ...string) []*ast.SelectorExpr {
	local := f.nameOf(path)
	var out []*ast.SelectorExpr
	ast.Inspect(n, func(n ast.Node) bool {
		s, ok := n.(*ast.SelectorExpr)
		if !ok {
			return true
		}
		if x, ok := s.X.(*ast.Ident); ok && local != "" && x.Name == local && slices.Contains(names, s.Sel.Name) {
			out = append(out, s)
		}
		return true
	})
	return out
}

func clockReads(f file) []*ast.SelectorExpr { return f.uses(f.File, "time", impureCalls...) }

func TestPackageDocs(t *testing.T) {
	for _, p := range packages(t) {
		var in []string
		for i, f := range parsed(t, p.Dir, p.GoFiles) {
			if f.Doc != nil {
				in = append(in, p.GoFiles[i])
			}
		}
		if !slices.Equal(in, []string{"doc.go"}) {
			t.Errorf("%s has its package comment in %v, want it in doc.go alone", p.short(), in)
		}
	}
}

func TestPackageNames(t *testing.T) {
	for _, p := range packages(t) {
		for part := range strings.SplitSeq(p.short(), "/") {
			if slices.Contains(vague, part) {
				t.Errorf("%s: a package named %s holds anything; name what it holds", p.short(), part)
			}
		}
		if base := filepath.Base(p.Dir); p.Name != "main" && p.Name != base {
			t.Errorf("%s: package %s in a folder named %s", p.short(), p.Name, base)
		}
	}
}

// A test that waits by the clock is slow when it passes and wrong when the
// machine is busy; inside a bubble time only passes when nobody works.
func TestNobodySleeps(t *testing.T) {
	found := map[string]bool{}
	for _, p := range packages(t) {
		files := parsed(t, p.Dir, slices.Concat(p.TestGoFiles, p.XTestGoFiles))
		blowers := bubbleBlowers(files)
		for _, f := range files {
			for fn, at := range f.sleepsOutside(blowers) {
				name := p.short() + "." + fn
				found[name] = true
				if sleepers[name] == "" {
					t.Errorf("%s: %s sleeps outside synctest.Test; wait for what it waits for", f.position(at), fn)
				}
			}
		}
	}
	for name := range sleepers {
		if !found[name] {
			t.Errorf("%s is excused from sleeping but does not", name)
		}
	}
}

// sleepsOutside finds functions that call time.Sleep anywhere but within the
// arguments of synctest.Test or of a function that calls it.
func (f file) sleepsOutside(blowers []string) map[string]token.Pos {
	out := map[string]token.Pos{}
	bubbles := f.bubbles(blowers)
	for _, d := range f.Decls {
		fn, ok := d.(*ast.FuncDecl)
		if !ok {
			continue
		}
		for _, s := range f.uses(fn, "time", "Sleep") {
			if !slices.ContainsFunc(bubbles, func(c ast.Node) bool { return c.Pos() <= s.Pos() && s.End() <= c.End() }) {
				out[fn.Name.Name] = s.Pos()
			}
		}
	}
	return out
}

// bubbles are the calls of synctest.Test, and of the blowers.
func (f file) bubbles(blowers []string) []ast.Node {
	var out []ast.Node
	ast.Inspect(f.File, func(n ast.Node) bool {
		c, ok := n.(*ast.CallExpr)
		if !ok {
			return true
		}
		name, named := c.Fun.(*ast.Ident)
		if named && slices.Contains(blowers, name.Name) || len(f.uses(c.Fun, "testing/synctest", "Test")) > 0 {
			out = append(out, c)
		}
		return true
	})
	return out
}

// bubbleBlowers are helpers of a package's tests that call synctest.Test.
func bubbleBlowers(files []file) []string {
	var out []string
	for _, f := range files {
		for _, d := range f.Decls {
			fn, ok := d.(*ast.FuncDecl)
			if ok && fn.Recv == nil && !strings.HasPrefix(fn.Name.Name, "Test") && len(f.uses(fn, "testing/synctest", "Test")) > 0 {
				out = append(out, fn.Name.Name)
			}
		}
	}
	return out
}
