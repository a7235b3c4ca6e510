package papers

import (
	"slices"
	"strings"
)

// wrap breaks text into lines no wider than w. A word that is wider than a line is broken inside only if it may be;
// false if it may not and there is one. No letter is ever lost.
func (c *canvas) wrap(s style, text shown, w float64, breakWords bool) ([]shown, bool) {
	var lines []shown
	line, wide := "", 0.0
	blank := c.width(s, " ")
	for word := range strings.SplitSeq(string(text), " ") {
		if word == "" {
			continue
		}
		needs := c.width(s, shown(word))
		if line != "" && wide+blank+needs <= w {
			line += " " + word
			wide += blank + needs
			continue
		}
		if line != "" {
			lines = append(lines, shown(line))
		}
		if needs > w {
			if !breakWords {
				return nil, false
			}
			pieces := c.pieces(s, word, w)
			lines = append(lines, pieces[:len(pieces)-1]...)
			word = string(pieces[len(pieces)-1])
			needs = c.width(s, shown(word))
		}
		line, wide = word, needs
	}
	if line != "" {
		lines = append(lines, shown(line))
	}
	return lines, true
}

// pieces breaks a word into pieces no wider than w, of one letter at least.
func (c *canvas) pieces(s style, word string, w float64) []shown {
	var pieces []shown
	from, wide := 0, 0.0
	for i := range len(word) {
		letter := c.width(s, shown(word[i:i+1]))
		if i > from && wide+letter > w {
			pieces = append(pieces, shown(word[from:i]))
			from, wide = i, 0
		}
		wide += letter
	}
	return append(pieces, shown(word[from:]))
}

// all wraps text whatever it takes.
func (c *canvas) all(s style, text shown, w float64) []shown {
	lines, _ := c.wrap(s, text, w, true)
	return lines
}

// sizes lists font sizes from the largest down to the smallest, in steps of half a point.
func sizes(largest, smallest float64) []float64 {
	var all []float64
	for size := largest; size > smallest; size -= 0.5 {
		all = append(all, size)
	}
	return append(all, smallest)
}

// anyMarked reports whether any of the texts has a character that could not be shown.
func anyMarked(texts ...shown) bool { return slices.ContainsFunc(texts, shown.marked) }
