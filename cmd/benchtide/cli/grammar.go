package cli

import (
	"fmt"
	"reflect"
)

// Command is a row of a table of commands.
type Command struct {
	Name  string // as it is typed
	Group string // the key of its heading in Groups
	Help  string // one line
	Do    any    // a struct of flags with a method Run, and Help for more than the line
}

// Grammar is the command line that takes these commands: a pointer to a struct,
// for Run, or for a field of a command that embeds it and has them beneath it.
// Each call makes a new one, whose flags are as the rows have them.
func Grammar(commands []Command) any {
	var fields []reflect.StructField
	for i, c := range commands {
		fields = append(fields, reflect.StructField{
			Name: fmt.Sprintf("Command%d", i),
			Type: reflect.TypeOf(c.Do),
			Tag:  reflect.StructTag(fmt.Sprintf(`cmd:"" name:%q group:%q help:%q`, c.Name, c.Group, c.Help)),
		})
	}
	grammar := reflect.New(reflect.StructOf(fields))
	for i, c := range commands {
		grammar.Elem().Field(i).Set(reflect.ValueOf(c.Do))
	}
	return grammar.Interface()
}
