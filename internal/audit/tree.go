package audit

import (
	"fmt"
	"slices"

	"golang.org/x/mod/sumdb/tlog"
)

// Head is where a log has come to: all that is needed to go on.
type Head struct {
	Size     int64  // entries
	Frontier []Hash // roots of the complete subtrees that it is made of, the largest first
}

// Add adds the hash of the next leaf and gives the hashes to keep with it: its own, and those of the subtrees that it
// completes, the smallest first.
func (h *Head) Add(leaf Hash) []Hash {
	kept := []Hash{leaf}
	for n := h.Size; n&1 == 1; n >>= 1 {
		last := len(h.Frontier) - 1
		leaf = tlog.NodeHash(h.Frontier[last], leaf)
		h.Frontier = h.Frontier[:last]
		kept = append(kept, leaf)
	}
	h.Frontier = append(h.Frontier, leaf)
	h.Size++
	return kept
}

// Root is the root of the whole tree.
func (h *Head) Root() Hash {
	if len(h.Frontier) == 0 {
		empty, _ := tlog.TreeHash(0, nil) // reads nothing
		return empty
	}
	root := h.Frontier[len(h.Frontier)-1]
	for _, left := range slices.Backward(h.Frontier[:len(h.Frontier)-1]) {
		root = tlog.NodeHash(left, root)
	}
	return root
}

// Same reports whether two heads are the same.
func (h *Head) Same(other Head) bool {
	return h.Size == other.Size && slices.Equal(h.Frontier, other.Frontier)
}

// Node is a hash that is kept: with which entry, and which of those kept with it.
type Node struct {
	Number int64 // of the entry
	Level  int   // 0: of the leaf
}

// Proof is the way from a leaf to the root: what a leaf is to be hashed with, nearest first.
type Proof = tlog.RecordProof

// Prove finds the way from an entry to the root of a tree of a size. read gives the hashes of nodes, in their order.
func Prove(size, number int64, read func([]Node) ([]Hash, error)) (Proof, error) {
	p, err := tlog.ProveRecord(size, number, tlog.HashReaderFunc(func(indexes []int64) ([]Hash, error) {
		nodes := make([]Node, len(indexes))
		for i, index := range indexes {
			level, n := tlog.SplitStoredHashIndex(index)
			nodes[i] = Node{(n+1)<<level - 1, level}
		}
		return read(nodes)
	}))
	if err != nil {
		return nil, fmt.Errorf("prove entry %d of %d: %w", number, size, err)
	}
	return p, nil
}
