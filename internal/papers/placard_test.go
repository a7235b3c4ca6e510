package papers_test

import (
	"errors"
	"math"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"tiedown/internal/papers"
	"tiedown/internal/testrig/printed"
)

// TestWordsOfAPlacard holds the words that the regulation gives: "Inoperative" (14 CFR 91.213(d)(3)(ii)), and exactly
// "ELT not installed." for an ELT that was removed (91.207(f)(10)).
func TestWordsOfAPlacard(t *testing.T) {
	t.Parallel()
	for _, tt := range []struct {
		what          string
		change        func(*papers.Placard)
		says, saysNot []string
	}{
		{
			"a deactivated item", func(*papers.Placard) {},
			[]string{
				"INOPERATIVE", "Exhaust gas temperature gauge", "panel, lower right", "N012TW", "Squawk 00002", "Made out 2026-11-25",
				"Expires 2027-01-25 09:30 EST", "Put on the instrument, or on the cockpit control",
			},
			[]string{"removed", "installed", papers.Mark},
		},
		{
			"a removed item", func(p *papers.Placard) { p.Method = papers.Removed },
			[]string{"INOPERATIVE", "Item removed", "Put on the cockpit control"},
			[]string{"instrument,", "installed"},
		},
		{
			"a removed ELT", func(p *papers.Placard) {
				p.Method, p.ELT, p.Item = papers.Removed, true, "Emergency locator transmitter"
			},
			[]string{"ELT not installed.", "Put in view of the pilot"},
			[]string{"INOPERATIVE"},
		},
		{
			"an ELT that is not removed", func(p *papers.Placard) { p.ELT = true }, []string{"INOPERATIVE"}, []string{"installed"},
		},
		{"an item of which nothing is settled", func(p *papers.Placard) { p.Method = "" }, []string{"INOPERATIVE"}, []string{"removed"}},
		{"no deferral yet", func(p *papers.Placard) { p.Until = time.Time{} }, []string{"Expires ____-__-__"}, []string{"0001"}},
		{
			"words on record that say more", func(p *papers.Placard) { p.Words = "EGT INOP, lean by tachometer" },
			[]string{"INOPERATIVE", "EGT INOP, lean by tachometer"},
			nil,
		},
		{
			"words on record that say the same", func(p *papers.Placard) { p.Words = "Exhaust gas temperature gauge Inoperative." },
			[]string{"INOPERATIVE"},
			[]string{"gauge Inoperative"},
		},
		{
			"nothing on record", func(p *papers.Placard) { p.Item, p.Registration, p.Squawk, p.Place = "", "", "", "" },
			[]string{"Item not on record", "aircraft not on record", "Squawk not on record"},
			nil,
		},
		{
			"letters that cannot be printed", func(p *papers.Placard) { p.Item = "Лампа 着陆灯" },
			[]string{strings.Repeat(papers.Mark, 5), papers.MarkNote()[1:]},
			nil,
		},
	} {
		p := placard()
		tt.change(&p)
		label, _ := papers.LabelNamed("102x76")
		d := printed.Open(t, bytesOf(t)(papers.Placards([]papers.Placard{p}, label, 1)))
		printedWith(t, d, tt.says...)
		for _, not := range tt.saysNot {
			if strings.Contains(solid(d.Text()), solid(not)) {
				t.Errorf("%s: the placard says %q:\n%s", tt.what, not, d.Text())
			}
		}
	}
}

// TestEveryLabelPrints holds, for every label of the table, that a placard with a long name keeps clear of the edge of
// its label, gives its words, and leads to the squawk.
func TestEveryLabelPrints(t *testing.T) {
	t.Parallel()
	for _, label := range papers.Labels() {
		t.Run(label.Name, func(t *testing.T) {
			t.Parallel()
			places := 1
			if label.Sheet != nil {
				places = label.Sheet.Places()
			}
			for _, start := range []int{1, places/2 + 1, places} {
				d := printed.Open(t, bytesOf(t)(papers.Placards([]papers.Placard{placard()}, label, start)))
				pages := pictures(d)
				if len(pages) != 1 {
					t.Fatalf("%d pages", len(pages))
				}
				inkOnlyIn(t, pages[0], within(papers.LabelBox(label, start-1), white))
				printedWith(t, d, "INOPERATIVE", "Exhaust gas temperature gauge", "panel, lower right", "N012TW", "Squawk 00002", "2027-01-25 09:30 EST")
				if says := codeOn(d, 1, papers.LabelBox(label, start-1)); says != url {
					t.Errorf("the code reads %q", says)
				}
			}
		})
	}
}

// TestAHalfUsedSheetGoesOn holds that placards follow each other from the start on, and go to a new sheet after the last
// place.
func TestAHalfUsedSheetGoesOn(t *testing.T) {
	t.Parallel()
	label, _ := papers.LabelNamed("letter-10")
	first, second := placard(), placard()
	second.URL += "?second"
	d := printed.Open(t, bytesOf(t)(papers.Placards([]papers.Placard{first, second}, label, 10)))
	pages := pictures(d)
	if len(pages) != 2 {
		t.Fatalf("%d sheets, want 2", len(pages))
	}
	inkOnlyIn(t, pages[0], within(papers.LabelBox(label, 9), white))
	inkOnlyIn(t, pages[1], within(papers.LabelBox(label, 0), white))
	if says := codeOn(d, 1, papers.LabelBox(label, 9)); says != first.URL {
		t.Errorf("the first code reads %q", says)
	}
	if says := codeOn(d, 2, papers.LabelBox(label, 0)); says != second.URL {
		t.Errorf("the second code reads %q", says)
	}
	for _, start := range []int{-1, 0, 11} {
		if _, err := papers.Placards([]papers.Placard{first}, label, start); !errors.Is(err, papers.ErrNoSuchPlace) {
			t.Errorf("place %d: %v", start, err)
		}
	}
	if _, err := papers.Placards(nil, label, 1); err == nil {
		t.Error("a placard of nothing is printed")
	}
}

// TestLabelsLieOnTheirSheets holds that the labels of a sheet lie on the paper and not on each other, and that both units
// say the same.
func TestLabelsLieOnTheirSheets(t *testing.T) {
	t.Parallel()
	names := map[string]bool{}
	for _, label := range papers.Labels() {
		if names[label.Name] || label.Source == "" {
			t.Errorf("%s: named twice, or without source", label.Name)
		}
		names[label.Name] = true
		if math.Abs(label.WidthIn()*25.4-label.Width) > 1e-9 || math.Abs(label.HeightIn()*25.4-label.Height) > 1e-9 {
			t.Errorf("%s: %f x %f in are not %f x %f mm", label.Name, label.WidthIn(), label.HeightIn(), label.Width, label.Height)
		}
		if label.Sheet == nil {
			continue
		}
		var all []papers.Placed
		for place := range label.Sheet.Places() {
			all = append(all, papers.Placed{Box: papers.LabelBox(label, place)})
		}
		holdsTogether(t, all, papers.Box{W: label.Sheet.Paper.Width, H: label.Sheet.Paper.Height})
	}
}

// TestPlacardsHoldWhateverIsWritten holds that a placard has every letter inside of its label, nothing on top of
// anything else, or is refused.
func TestPlacardsHoldWhateverIsWritten(t *testing.T) {
	t.Parallel()
	refused, done := 0, 0
	rapid.Check(t, func(t *rapid.T) {
		p := papers.Placard{
			Registration: text(2).Draw(t, "registration"), Item: text(12).Draw(t, "item"), Place: text(6).Draw(t, "place"),
			Words: text(6).Draw(t, "words"), Squawk: text(1).Draw(t, "squawk"), Made: made, URL: url,
			Method: rapid.SampledFrom([]papers.Method{"", papers.Deactivated, papers.Removed}).Draw(t, "method"),
			ELT:    rapid.Bool().Draw(t, "elt"),
		}
		label := rapid.SampledFrom(papers.Labels()).Draw(t, "label")
		all, err := papers.PlacedPlacards([]papers.Placard{p}, label, 1)
		if err != nil {
			if !errors.Is(err, papers.ErrDoesNotFit) {
				t.Fatalf("%v", err)
			}
			refused++
			return
		}
		done++
		holdsTogether(t, all, within(papers.LabelBox(label, 0), white))
		saysAll(t, all, p.Headline(), p.Item, p.Place, p.Registration, p.Squawk)
	})
	if done < 20 || refused == 0 {
		t.Errorf("%d printed, %d refused: the test looks at one kind only", done, refused)
	}
}

// TestALongNameOnTheLargestLabel holds that a name as long as any of the catalog prints everywhere, and one without end
// is refused, not cut off.
func TestALongNameOnTheLargestLabel(t *testing.T) {
	t.Parallel()
	p := placard()
	p.Item = strings.Repeat("W", 60)
	for _, label := range papers.Labels() {
		all, err := papers.PlacedPlacards([]papers.Placard{p}, label, 1)
		if err == nil {
			saysAll(t, all, p.Item)
		} else if label.Name == "102x152" || label.Name == "102x76" {
			t.Errorf("%s: %v", label.Name, err)
		}
	}
	p.Item = strings.Repeat("W", 5000)
	for _, label := range papers.Labels() {
		if _, err := papers.Placards([]papers.Placard{p}, label, 1); !errors.Is(err, papers.ErrDoesNotFit) {
			t.Errorf("%s: %v", label.Name, err)
		}
	}
	p = placard()
	p.URL = "https://" + strings.Repeat("x", 5000)
	if _, err := papers.Placards([]papers.Placard{p}, papers.Labels()[0], 1); !errors.Is(err, papers.ErrDoesNotFit) {
		t.Errorf("an address without end: %v", err)
	}
}

func FuzzPlacard(f *testing.F) {
	f.Add("Landing light", "left wing", "Inoperative", "N012TW", "00001", uint8(0))
	f.Add("", "", "", "", "", uint8(1))
	f.Add("מזהה חירום", "👩‍✈️", "\xff\x00", "\u202e", strings.Repeat("W", 200), uint8(9))
	f.Fuzz(func(t *testing.T, item, place, words, registration, squawk string, n uint8) {
		labels := papers.Labels()
		label := labels[int(n)%len(labels)]
		p := placard()
		p.Item, p.Place, p.Words, p.Registration, p.Squawk = item, place, words, registration, squawk
		all, err := papers.PlacedPlacards([]papers.Placard{p}, label, 1)
		if errors.Is(err, papers.ErrDoesNotFit) {
			return
		}
		if err != nil {
			t.Fatal(err)
		}
		holdsTogether(t, all, within(papers.LabelBox(label, 0), white))
		saysAll(t, all, "INOPERATIVE", item, place, registration, squawk)
	})
}
