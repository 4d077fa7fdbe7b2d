package jobfile

import "slices"

// Clone copies a tree. Positions are kept.
func (n *Node) Clone() *Node {
	if n == nil {
		return nil
	}
	c := *n
	if n.Members() != nil {
		members := slices.Clone(n.Members())
		for i := range members {
			members[i].Value = members[i].Value.Clone()
		}
		c.SetMembers(members)
	}
	if n.Items() != nil {
		items := make([]*Node, len(n.Items()))
		for i, x := range n.Items() {
			items[i] = x.Clone()
		}
		c.SetItems(items)
	}
	return &c
}

// Element finds an element of a List by its index, or by the value of its id, task, layer or record. It
// gives -1 when there is none.
func (n *Node) Element(step string) int {
	if n == nil || n.Kind != List {
		return -1
	}
	if k, ok := listIndex(step); ok && k < len(n.Items()) {
		return k
	}
	for i, x := range n.Items() {
		if x == nil {
			continue
		}
		for j := range x.Members() {
			switch x.Members()[j].Key {
			case "id", "task", "layer", "record":
				if x.Members()[j].Value.Text == step {
					return i
				}
			}
		}
	}
	return -1
}
