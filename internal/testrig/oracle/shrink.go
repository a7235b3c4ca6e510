package oracle

import (
	"encoding/json"
	"slices"

	"tiedown/internal/casefile"
)

// Shrink takes away squawks, units, facts and everything else of a case, one after the other, for as long as what is
// left still fails. It gives back the case that can spare nothing more.
func Shrink(c casefile.Case, fails func(casefile.Case) bool) casefile.Case {
	raw, err := json.Marshal(c)
	if err != nil {
		return c
	}
	var tree any
	if err := json.Unmarshal(raw, &tree); err != nil {
		return c
	}
	still := func() bool {
		raw, err := json.Marshal(tree)
		if err != nil {
			return false
		}
		var smaller casefile.Case
		if json.Unmarshal(raw, &smaller) != nil || !fails(smaller) {
			return false
		}
		c = smaller
		return true
	}
	for shrunk := true; shrunk; {
		shrunk = prune(&tree, still)
	}
	return c
}

// prune tries to take away each part of a tree, and reports whether it could take any.
func prune(node *any, still func() bool) (shrunk bool) {
	switch n := (*node).(type) {
	case map[string]any:
		keys := make([]string, 0, len(n))
		for k := range n {
			keys = append(keys, k)
		}
		slices.Sort(keys)
		for _, k := range keys {
			child := n[k]
			delete(n, k)
			if still() {
				shrunk = true
				continue
			}
			n[k] = child
			shrunk = prune(&child, func() bool { n[k] = child; return still() }) || shrunk
			n[k] = child
		}
	case []any:
		for i := len(n) - 1; i >= 0; i-- {
			whole := n
			n = slices.Delete(slices.Clone(whole), i, i+1)
			*node = n
			if still() {
				shrunk = true
				continue
			}
			n = whole
			*node = n
			child := n[i]
			shrunk = prune(&child, func() bool { n[i] = child; return still() }) || shrunk
			n[i] = child
		}
	}
	return shrunk
}
