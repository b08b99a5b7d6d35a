package specs

import "go.yaml.in/yaml/v3"

// ReadDocument reads a YAML file of another kind, such as a bench file, by a
// shape, under the same rules as a spec: one document of plain text, no
// aliases, unknown keys refused. The error is an ErrorList of all problems;
// the T is given as far as it was read.
func ReadDocument[T any](file string, src []byte, r Reader[T]) (T, error) {
	var none T
	d := &document{file: file, refused: map[*yaml.Node]bool{}}
	root := d.root(src)
	if root == nil {
		return none, d.problems.err()
	}
	d.walk(root, 1)
	x, _ := r.Read(&Value{doc: d, node: root})
	if list := d.problems.err(); len(list) > 0 {
		return x, list
	}
	return x, nil
}

// Raw is a shape for a value that another package reads: it gives the YAML
// node as it is.
type Raw struct{}

// Schema says that it may be anything.
func (Raw) Schema() map[string]any { return map[string]any{} }

// Read gives the node.
func (Raw) Read(v *Value) (*yaml.Node, bool) { return v.node, true }
