package daylight

import (
	"slices"
	"testing"
	"time"
)

func TestShadeSpans(t *testing.T) {
	t.Parallel()
	start := time.Unix(0, 0)
	span := func(from, to time.Duration) Span { return Span{start.Add(from), start.Add(to)} }
	for _, c := range []struct {
		name  string
		shade shade
		want  []Span
	}{
		{"above throughout", shade{}, nil},
		{"below throughout", shade{below: true}, []Span{span(0, 100)}},
		{"sets", shade{crossings: []time.Duration{40}}, []Span{span(40, 100)}},
		{"rises", shade{below: true, crossings: []time.Duration{40}}, []Span{span(0, 40)}},
		{"sets and rises", shade{crossings: []time.Duration{40, 60}}, []Span{span(40, 60)}},
		{"rises and sets", shade{below: true, crossings: []time.Duration{40, 60}}, []Span{span(0, 40), span(60, 100)}},
		{"rises at once", shade{below: true, crossings: []time.Duration{0}}, nil},
		{"sets at the end", shade{crossings: []time.Duration{100}}, nil},
	} {
		if got := c.shade.spans(start, 100); !slices.Equal(got, c.want) {
			t.Errorf("%s: %v, want %v", c.name, got, c.want)
		}
	}
}

// A leg too short for the clock may lie between two others: what it steps over still counts.
func TestShadeAcrossAGap(t *testing.T) {
	t.Parallel()
	start := time.Date(2024, 3, 20, 12, 0, 0, 0, time.UTC)
	noon, midnight := Place{0, 0}.up(), Place{0, 180}.up()
	j := journey{start, []leg{
		leg{end: time.Minute, from: noon}.under(start),
		leg{begin: time.Minute, end: 2 * time.Minute, from: midnight}.under(start),
	}}
	got := j.shade(civilAltitude)
	if got.below || !slices.Equal(got.crossings, []time.Duration{time.Minute}) {
		t.Errorf("%+v, want light, and dark from the second leg on", got)
	}
}
