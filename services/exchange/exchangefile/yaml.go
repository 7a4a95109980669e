package exchangefile

import (
	"bytes"
	"errors"
	"io"
	"os"
	"strconv"
	"strings"

	"go.yaml.in/yaml/v3"

	"halfshaft/services/exchange"
)

// The bounds of one document.
const (
	maxDepth  = 32
	maxValues = 200_000
)

// readYAML reads a file of one or more documents. Anchors and aliases are
// refused: a record says everything itself, and a small file stays small.
func readYAML(path, shown string, c *exchange.Collection) error {
	info, err := os.Stat(path)
	if err != nil {
		return err
	}
	if info.Size() > MaxYAMLBytes {
		return &malformed{got: size(info.Size()), want: "at most " + size(MaxYAMLBytes)}
	}
	raw, err := os.ReadFile(path)
	if err != nil {
		return err
	}
	return yamlDocuments(raw, shown, c)
}

func yamlDocuments(raw []byte, shown string, c *exchange.Collection) error {
	decoder := yaml.NewDecoder(bytes.NewReader(raw))
	for {
		var node yaml.Node
		err := decoder.Decode(&node)
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			return &malformed{got: err.Error(), want: "a YAML document"}
		}
		if len(node.Content) == 0 {
			continue // an empty document
		}
		w := &treeWalker{}
		tree := w.tree(node.Content[0], 0)
		if w.bad != nil {
			return w.bad
		}
		c.Document(shown, tree)
	}
}

// treeWalker turns YAML's nodes into trees and counts them.
type treeWalker struct {
	values int
	bad    error
}

func (w *treeWalker) tree(n *yaml.Node, depth int) *exchange.Tree {
	t := &exchange.Tree{Line: n.Line}
	w.values++
	switch {
	case w.bad != nil:
		return t
	case depth > maxDepth:
		w.bad = &malformed{row: n.Line, got: "values within values within values", want: "at most " + strconv.Itoa(maxDepth) + " levels"}
		return t
	case w.values > maxValues:
		w.bad = &malformed{row: n.Line, got: "more than " + strconv.Itoa(maxValues) + " values", want: "fewer"}
		return t
	case n.Kind == yaml.AliasNode || n.Anchor != "":
		w.bad = &malformed{row: n.Line, got: "an anchor or alias", want: "the value itself"}
		return t
	}
	switch n.Kind {
	case yaml.MappingNode:
		t.Form = exchange.Map
		for i := 0; i+1 < len(n.Content); i += 2 {
			t.Keys = append(t.Keys, w.tree(n.Content[i], depth+1))
			t.Items = append(t.Items, w.tree(n.Content[i+1], depth+1))
		}
	case yaml.SequenceNode:
		t.Form = exchange.List
		for _, item := range n.Content {
			t.Items = append(t.Items, w.tree(item, depth+1))
		}
	default:
		if n.Tag == "!!null" {
			return t
		}
		t.Form, t.Text = exchange.Scalar, n.Value
	}
	return t
}

// writeYAML writes a tree as one document.
func writeYAML(path string, t *exchange.Tree) error {
	var b bytes.Buffer
	encoder := yaml.NewEncoder(&b)
	encoder.SetIndent(2)
	if err := encoder.Encode(yamlNode(t)); err != nil {
		return err
	}
	if err := encoder.Close(); err != nil {
		return err
	}
	return os.WriteFile(path, b.Bytes(), 0o600)
}

func yamlNode(t *exchange.Tree) *yaml.Node {
	switch t.Form {
	case exchange.Map:
		n := &yaml.Node{Kind: yaml.MappingNode}
		for i, key := range t.Keys {
			n.Content = append(n.Content, yamlNode(key), yamlNode(t.Items[i]))
		}
		return n
	case exchange.List:
		n := &yaml.Node{Kind: yaml.SequenceNode}
		for _, item := range t.Items {
			n.Content = append(n.Content, yamlNode(item))
		}
		return n
	case exchange.Nothing:
		return &yaml.Node{Kind: yaml.ScalarNode, Tag: "!!null"}
	}
	n := &yaml.Node{Kind: yaml.ScalarNode, Value: t.Text}
	if !t.Plain {
		n.Tag = "!!str"
	}
	if strings.ContainsRune(t.Text, '\t') {
		// As a block the library writes a line of tabs that no reader takes.
		n.Style = yaml.DoubleQuotedStyle
	}
	return n
}
