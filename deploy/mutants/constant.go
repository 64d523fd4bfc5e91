package main

import (
	"go/ast"
	"go/constant"
	"go/token"
	"go/types"
)

// constants puts each number that physics may stand on behind its number: every
// constant expression of real numbers or durations that has a figure of its own,
// but 0, 1 and 2. What was a constant becomes a variable.
func (s *surgeon) constants(f *ast.File) {
	ast.PreorderStack(f, nil, func(n ast.Node, stack []ast.Node) bool {
		switch n := n.(type) {
		case *ast.GenDecl:
			return s.declared(n)
		case ast.Expr:
			return !s.scale(n)
		}
		return true
	})
}

// declared makes variables of constants that are real numbers wherever they are
// used, and leaves the others as they are.
func (s *surgeon) declared(d *ast.GenDecl) (within bool) {
	if d.Tok != token.CONST {
		return d.Tok == token.VAR
	}
	if !s.varies(d) {
		return false
	}
	s.replace(d.Pos(), len("const"), "var")
	for _, spec := range d.Specs {
		v := spec.(*ast.ValueSpec)
		if v.Type == nil {
			s.insert(v.Names[len(v.Names)-1].End(), " %s", s.named(s.used(v.Names[0])))
		}
		for i, value := range v.Values {
			s.wrap(value, s.used(v.Names[i]))
		}
	}
	return false
}

// varies reports whether constants can be made variables, all of one type.
func (s *surgeon) varies(d *ast.GenDecl) bool {
	for _, spec := range d.Specs {
		for i, name := range spec.(*ast.ValueSpec).Names {
			first := s.used(d.Specs[0].(*ast.ValueSpec).Names[0])
			if i >= len(spec.(*ast.ValueSpec).Values) || s.used(name) == nil || !types.Identical(s.used(name), first) {
				return false
			}
		}
	}
	return true
}

// keep finds the constants of files that stay constants: each use of one is tried
// in its place.
func keep(info *types.Info, files []*ast.File) map[types.Object]bool {
	kept, s := map[types.Object]bool{}, surgeon{info: info}
	for _, f := range files {
		for _, d := range f.Decls {
			g, is := d.(*ast.GenDecl)
			if !is || g.Tok != token.CONST || s.varies(g) {
				continue
			}
			for _, spec := range g.Specs {
				for _, name := range spec.(*ast.ValueSpec).Names {
					kept[info.Defs[name]] = true
				}
			}
		}
	}
	return kept
}

// used is the one type in which a constant is used, if it is a real number or a
// duration.
func (s *surgeon) used(name *ast.Ident) types.Type {
	object := s.info.Defs[name]
	if object == nil {
		return nil
	}
	if t := object.Type(); !untyped(t) {
		return real(t)
	}
	var one types.Type
	for id, o := range s.info.Uses {
		if o != object {
			continue
		}
		t := s.info.TypeOf(id)
		switch {
		case untyped(t) || one != nil && !types.Identical(one, t):
			return nil
		}
		one = t
	}
	if one == nil {
		return nil
	}
	return real(one)
}

func untyped(t types.Type) bool {
	b, ok := t.(*types.Basic)
	return ok && b.Info()&types.IsUntyped != 0
}

// real is t if it holds real numbers or durations.
func real(t types.Type) types.Type {
	if b, ok := t.Underlying().(*types.Basic); ok && b.Info()&types.IsFloat != 0 && !untyped(t) || t.String() == "time.Duration" {
		return t
	}
	return nil
}

// scale puts a constant expression behind a number, if it is one to be tried.
func (s *surgeon) scale(e ast.Expr) bool {
	v := s.info.Types[e]
	if v.Value == nil || real(v.Type) == nil {
		return false
	}
	s.wrap(e, v.Type)
	return true
}

func (s *surgeon) wrap(e ast.Expr, t types.Type) {
	if !s.figure(e) {
		return
	}
	from := string(s.text[s.offset(e.Pos()):s.offset(e.End())])
	s.insert(e.Pos(), "mutant.Scaled[%s](%d, ", s.named(t), s.number(e.Pos(), from, "± 3 %"))
	s.insert(e.End(), ")")
}

// named is how the package writes a type.
func (s *surgeon) named(t types.Type) string {
	return types.TypeString(t, func(p *types.Package) string {
		if p.Path() == s.here {
			return ""
		}
		return p.Name()
	})
}

// figure reports whether an expression has a figure of its own that is worth a
// trial, or the name of one.
func (s *surgeon) figure(e ast.Expr) (has bool) {
	if bare, ok := e.(*ast.BasicLit); ok {
		switch v := constant.ToFloat(s.info.Types[bare].Value); v.String() {
		case "0", "1", "2":
			return false
		}
	}
	ast.Inspect(e, func(n ast.Node) bool {
		switch n := n.(type) {
		case *ast.BasicLit:
			has = true
		case *ast.Ident: // a constant that could not be made a variable
			c, is := s.info.Uses[n].(*types.Const)
			has = has || is && c.Pkg() != nil && c.Pkg().Path() == s.here && s.kept[c]
		}
		return true
	})
	return has
}
