package main

import (
	"embed"
	"fmt"
	"io"
	"strings"
)

// The JSON Schema of each command's answer to --format json. They are generated from the structs that are encoded:
// go test ./cmd/tarebook -run Schemas -update
//
//go:embed help/json/*.json
var schemas embed.FS

// schema returns the JSON Schema of what the command answers; "" if it answers no JSON.
func (c *command) schema() string {
	text, _ := schemas.ReadFile(c.schemaFile())
	return string(text)
}

func (c *command) schemaFile() string {
	return "help/json/" + strings.ReplaceAll(c.name, " ", "-") + ".json"
}

// helpJSON answers help json COMMAND.
func helpJSON(words []string, env environment) error {
	name := strings.Join(words, " ")
	if name == "queue" { // as when it is typed
		name = "queue list"
	}
	c := find(name)
	if c == nil {
		return unknownCommand(name)
	}
	text := c.schema()
	if text == "" {
		return fmt.Errorf("%s answers no JSON; the commands that do are listed by: tarebook help json", name)
	}
	_, err := io.WriteString(env.stdout, text)
	return err
}
