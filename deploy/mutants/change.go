package main

import (
	"fmt"
	"go/ast"
	"go/token"
	"go/types"
	"slices"
	"strings"
)

// change is one small change of a program.
type change struct {
	n    int
	file string
	line int
	text string // the line, with what is changed in brackets
	what string // from → to
}

// edit replaces the bytes from until to.
type edit struct {
	from, to int
	with     string
}

// surgeon puts every change of a file behind its number.
type surgeon struct {
	fset    *token.FileSet
	info    *types.Info
	file    string
	here    string // path of the package
	text    string
	lines   []string
	changes *[]change
	edits   []edit
	kept    map[types.Object]bool // constants of the package that stay constants
}

func (s *surgeon) offset(p token.Pos) int { return s.fset.Position(p).Offset }

func (s *surgeon) number(at token.Pos, from, to string) int {
	p := s.fset.Position(at)
	line, column, n := s.lines[p.Line-1], p.Column-1, len(*s.changes)+1
	text := line[:column] + "⟦" + from + "⟧" + line[column+len(from):]
	*s.changes = append(*s.changes, change{n, s.file, p.Line, strings.TrimSpace(text), from + " → " + to})
	return n
}

func (s *surgeon) insert(at token.Pos, format string, args ...any) {
	s.edits = append(s.edits, edit{s.offset(at), s.offset(at), fmt.Sprintf(format, args...)})
}

func (s *surgeon) replace(at token.Pos, length int, with string) {
	s.edits = append(s.edits, edit{s.offset(at), s.offset(at) + length, with})
}

// walk goes through a tree. What opens is put down on the way in and what
// closes on the way out, so that changes nest.
func (s *surgeon) walk(n ast.Node) {
	ast.PreorderStack(n, nil, func(n ast.Node, stack []ast.Node) bool {
		switch n := n.(type) {
		case *ast.GenDecl:
			return n.Tok != token.CONST
		case *ast.BinaryExpr:
			return s.binary(n)
		case *ast.UnaryExpr:
			return s.unary(n)
		case *ast.IncDecStmt:
			if isBlock(stack) {
				s.step(n)
			}
		case *ast.AssignStmt:
			return !isBlock(stack) || s.assign(n)
		case *ast.BranchStmt:
			s.branch(n)
		}
		return true
	})
}

func isBlock(stack []ast.Node) bool {
	if len(stack) == 0 {
		return false
	}
	switch stack[len(stack)-1].(type) {
	case *ast.BlockStmt, *ast.CaseClause:
		return true
	}
	return false
}

// constant reports whether the compiler knows the value of an expression.
func (s *surgeon) constant(e ast.Expr) bool { return s.info.Types[e].Value != nil }

func (s *surgeon) isNumber(e ast.Expr) bool {
	b, ok := s.info.TypeOf(e).Underlying().(*types.Basic)
	return ok && b.Info()&types.IsNumeric != 0
}

var negations = map[token.Token]string{token.LSS: ">=", token.GEQ: "<", token.GTR: "<=", token.LEQ: ">", token.EQL: "!=", token.NEQ: "=="}

var arithmetic = map[token.Token][2]string{token.ADD: {"Add", "-"}, token.SUB: {"Sub", "+"}, token.MUL: {"Mul", "/"}, token.QUO: {"Div", "*"}}

// binary changes x op y, then goes into its sides itself.
func (s *surgeon) binary(e *ast.BinaryExpr) bool {
	if s.constant(e) {
		return false
	}
	op, between, end := e.Op.String(), e.Op.String(), ""
	if to, ok := negations[e.Op]; ok {
		s.insert(e.Pos(), "((")
		end = fmt.Sprintf(") != mutant.On(%d))", s.number(e.OpPos, op, to))
	}
	switch e.Op {
	case token.LSS, token.GTR, token.LEQ, token.GEQ:
		to := map[token.Token]string{token.LSS: "<=", token.GTR: ">=", token.LEQ: "<", token.GEQ: ">"}[e.Op]
		name := map[token.Token]string{token.LSS: "Less", token.GTR: "More", token.LEQ: "Most", token.GEQ: "Least"}[e.Op]
		s.insert(e.Pos(), "mutant.%s(%d, ", name, s.number(e.OpPos, op, to))
		between, end = ",", ")"+end
	case token.LAND, token.LOR:
		name, to := "And", "||"
		if e.Op == token.LOR {
			name, to = "Or", "&&"
		}
		s.insert(e.Pos(), "mutant.%s(%d, ", name, s.number(e.OpPos, op, to))
		between, end = ", func() bool { return ", " })"
	case token.ADD, token.SUB, token.MUL, token.QUO:
		if s.isNumber(e) {
			a := arithmetic[e.Op]
			s.insert(e.Pos(), "mutant.%s(%d, ", a[0], s.number(e.OpPos, op, a[1]))
			between, end = ",", ")"
		}
	}
	s.walk(e.X)
	s.replace(e.OpPos, len(op), between)
	s.walk(e.Y)
	s.insert(e.End(), "%s", end)
	return false
}

func (s *surgeon) unary(e *ast.UnaryExpr) bool {
	switch {
	case s.constant(e):
		return false
	case e.Op == token.SUB:
		s.replace(e.OpPos, 1, fmt.Sprintf("mutant.Neg(%d, ", s.number(e.OpPos, "-", "")))
	case e.Op == token.NOT:
		s.replace(e.OpPos, 1, fmt.Sprintf("(mutant.On(%d) == ", s.number(e.OpPos, "!", "")))
	default:
		return true
	}
	s.walk(e.X)
	s.insert(e.End(), ")")
	return false
}

func (s *surgeon) step(e *ast.IncDecStmt) {
	other := map[token.Token]string{token.INC: "--", token.DEC: "++"}[e.Tok]
	s.either(e, s.number(e.TokPos, e.Tok.String(), other), e.TokPos, e.Tok.String(), other)
}

func (s *surgeon) assign(e *ast.AssignStmt) bool {
	other := map[token.Token]string{token.ADD_ASSIGN: "-=", token.SUB_ASSIGN: "+="}[e.Tok]
	if other == "" || !s.isNumber(e.Lhs[0]) {
		return true
	}
	s.either(e, s.number(e.TokPos, e.Tok.String(), other), e.TokPos, e.Tok.String(), other)
	return false
}

// either puts a statement into the branch of an if, and itself with another
// token into the other.
func (s *surgeon) either(e ast.Stmt, n int, at token.Pos, tok, other string) {
	text := strings.Join(s.lines, "\n")
	from, to := s.offset(e.Pos()), s.offset(e.End())
	s.insert(e.Pos(), "if mutant.On(%d) { %s%s%s } else { ", n, text[from:s.offset(at)], other, text[s.offset(at)+len(tok):to])
	if a, ok := e.(*ast.AssignStmt); ok {
		s.walk(a.Rhs[0])
	}
	s.insert(e.End(), " }")
}

func (s *surgeon) branch(e *ast.BranchStmt) {
	if e.Tok == token.CONTINUE && e.Label == nil {
		s.insert(e.Pos(), "if mutant.On(%d) { break }; ", s.number(e.Pos(), "continue", "break"))
	}
}

// operated is the text of the file with all its changes.
func (s *surgeon) operated(text string) string {
	slices.SortStableFunc(s.edits, func(a, b edit) int { return a.from - b.from })
	var b strings.Builder
	at := 0
	for _, e := range s.edits {
		b.WriteString(text[at:e.from] + e.with)
		at = e.to
	}
	return b.String() + text[at:]
}
