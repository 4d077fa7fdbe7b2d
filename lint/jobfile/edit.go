package jobfile

// Clone copies a tree. Positions are kept.
func (n *Node) Clone() *Node {
	if n == nil {
		return nil
	}
	c := *n
	if n.Members != nil {
		c.Members = make([]Member, len(n.Members))
		for i, m := range n.Members {
			m.Value = m.Value.Clone()
			c.Members[i] = m
		}
	}
	if n.Items != nil {
		c.Items = make([]*Node, len(n.Items))
		for i, x := range n.Items {
			c.Items[i] = x.Clone()
		}
	}
	return &c
}
