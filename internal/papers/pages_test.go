package papers_test

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"tiedown/internal/papers"
	"tiedown/internal/testrig/printed"
)

// onItsSide is the page of a list.
func onItsSide(p papers.Paper) papers.Box {
	return within(papers.Box{W: p.Height, H: p.Width}, pageMargin)
}

func standing(p papers.Paper) papers.Box {
	return within(papers.Box{W: p.Width, H: p.Height}, pageMargin)
}

// TestTheListSaysWhatIsDeferred holds that the list has everything that is on record of each deferral, the caution, and
// what else is open: on one page as long as that can be read, then on pages that say how many they are.
func TestTheListSaysWhatIsDeferred(t *testing.T) {
	t.Parallel()
	for _, tt := range []struct{ items, pages int }{{0, 1}, {9, 1}, {40, 3}} {
		for _, paper := range papers.Papers() {
			list := deferredList(tt.items)
			d := printed.Open(t, bytesOf(t)(papers.DeferredItems(list, paper)))
			pages := pictures(d)
			if len(pages) != tt.pages {
				t.Errorf("%d items on %s: %d pages, want %d", tt.items, paper.Name, len(pages), tt.pages)
			}
			for _, page := range pages {
				inkOnlyIn(t, page, onItsSide(paper))
			}
			says := []string{
				"DEFERRED ITEMS", "N012TW", "Tansy 140 Trainer", "2026-11-25 09:30 EST", "Open and not deferred, 1: 00007 Beacon.",
				"The pilot in command decides whether the aircraft is in condition for safe flight (14 CFR 91.7(b)).",
				fmt.Sprintf("Page %d of %d", len(pages), len(pages)),
			}
			for _, item := range list.Items {
				says = append(says, item.Squawk)
			}
			if tt.items > 0 {
				says = append(says, "Exhaust gas temperature gauge", "egt", "panel, lower right", "14 CFR 91.213(d)", "deactivated", "EGT inoperative",
					"airframe log, page 41", "J. Larkspur, mechanic, certificate 0000001", "2026-11-25 08:30 EST", "2026-11-22",
					"2027-01-25 09:30 EST", "Not for night VFR (14 CFR 91.205(c)(4))")
			} else {
				says = append(says, "No item is deferred.")
			}
			printedWith(t, d, says...)
			if strings.Contains(d.Text(), "EXPIRED") {
				t.Errorf("%d items: something has expired", tt.items)
			}
		}
	}
}

// TestTheListHidesNothing holds that what is missing or over is said, not left blank.
func TestTheListHidesNothing(t *testing.T) {
	t.Parallel()
	over := deferredItem()
	over.Until = made
	d := printed.Open(t, bytesOf(t)(papers.DeferredItems(papers.DeferredList{AsOf: made, Items: []papers.DeferredItem{over, {}}}, papers.A4)))
	printedWith(t, d, "EXPIRED", "item not on record", "method not on record", "none found", "No other squawk is open.", "aircraft not on record")
	if n := strings.Count(solid(d.Text()), "notonrecord"); n < 9 {
		t.Errorf("%d things are said not to be on record, want at least 9:\n%s", n, d.Text())
	}
	list := deferredList(1)
	list.Caution = "Ask first."
	list.Items[0].Placard = "אין חשמל"
	printedWith(t, printed.Open(t, bytesOf(t)(papers.DeferredItems(list, papers.A4))), "Ask first.", strings.Repeat(papers.Mark, 3), papers.MarkNote()[1:])
}

func TestTheListHoldsWhateverIsWritten(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		list := papers.DeferredList{Registration: text(2).Draw(t, "registration"), Type: text(30).Draw(t, "type"), AsOf: made}
		says := []string{list.Registration, list.Type}
		for range rapid.IntRange(0, 6).Draw(t, "items") {
			d := papers.DeferredItem{
				Squawk: text(2).Draw(t, "squawk"), Item: text(10).Draw(t, "item"), Unit: text(4).Draw(t, "unit"), Place: text(10).Draw(t, "place"),
				Basis: text(4).Draw(t, "basis"), Placard: text(60).Draw(t, "placard"), Entry: text(10).Draw(t, "entry"),
				DeterminedBy: text(200).Draw(t, "by"), Since: made, Until: made, Limitations: []string{text(20).Draw(t, "limitation")},
			}
			list.Items = append(list.Items, d)
			says = append(says, d.Squawk, d.Item, d.Unit, d.Place, d.Basis, d.Placard, d.Entry, d.DeterminedBy, d.Limitations[0])
		}
		list.NotDeferred = rapid.SliceOfN(text(5), 0, 4).Draw(t, "open")
		paper := rapid.SampledFrom(papers.Papers()).Draw(t, "paper")
		all := papers.PlacedDeferred(list, paper)
		holdsTogether(t, all, onItsSide(paper))
		saysAll(t, all, append(says, list.NotDeferred...)...)
	})
}

// TestALogPageHasTheContentsOfAnEntry holds the contents of 14 CFR 43.9(a)(1) to (4).
func TestALogPageHasTheContentsOfAnEntry(t *testing.T) {
	t.Parallel()
	for _, paper := range papers.Papers() {
		blank := papers.LogPage{Registration: "N012TW"}
		long := logPage()
		long.Work = strings.Repeat("Gauge removed, probe leads capped and secured. ", 400)
		for _, tt := range []struct {
			page  papers.LogPage
			pages int
			says  []string
		}{
			{logPage(), 1, []string{
				"N012TW", "Tansy 140 Trainer", "TW-0012", "3,412.6 h", "00002", "EGT needle rests on the peg in flight.",
				"Gauge removed, probe leads capped and secured.", "2026-11-25", "A. Teasel", "J. Larkspur", "0000001", "Mechanic, airframe and powerplant",
			}},
			{blank, 1, []string{"N012TW", "Type________________"}},
			{long, 3, []string{"Page 3 of 3", "Gauge removed, probe leads capped and secured.", "J. Larkspur"}},
		} {
			d := printed.Open(t, bytesOf(t)(papers.LogPages(tt.page, paper)))
			pages := pictures(d)
			if len(pages) != tt.pages {
				t.Errorf("%s: %d pages, want %d", paper.Name, len(pages), tt.pages)
			}
			for _, page := range pages {
				inkOnlyIn(t, page, standing(paper))
			}
			printedWith(t, d, append(tt.says,
				"MAINTENANCE ENTRY", "14 CFR 43.9(a)(1)", "Date of completion (43.9(a)(2))", "Work performed by, if not the signer (43.9(a)(3))",
				"approved for return to service for that work only (43.9(a)(4))", "Signature", "Certificate number", "Kind of certificate",
				"Not an approval until it is signed by hand.")...)
			if n := strings.Count(d.Text(), "Kind of certificate"); n != 1 {
				t.Errorf("%s: there are %d blocks to sign", paper.Name, n)
			}
		}
	}
}

func TestLogPagesHoldWhateverIsWritten(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		p := papers.LogPage{
			Registration: text(2).Draw(t, "registration"), Type: text(20).Draw(t, "type"), Serial: text(5).Draw(t, "serial"),
			TotalTime: text(3).Draw(t, "time"), Squawk: text(2).Draw(t, "squawk"), Discrepancy: text(300).Draw(t, "discrepancy"),
			Work: text(600).Draw(t, "work"), DoneBy: text(30).Draw(t, "by"), Signer: text(30).Draw(t, "signer"),
			Number: text(30).Draw(t, "number"), Kind: text(30).Draw(t, "kind"), Made: made,
		}
		if rapid.Bool().Draw(t, "completed") {
			p.Completed = made.Add(-24 * time.Hour)
		}
		paper := rapid.SampledFrom(papers.Papers()).Draw(t, "paper")
		all := papers.PlacedLog(p, paper)
		holdsTogether(t, all, standing(paper))
		saysAll(t, all, p.Registration, p.Type, p.Serial, p.TotalTime, p.Squawk, p.Discrepancy, p.Work, p.DoneBy, p.Signer, p.Number, p.Kind)
	})
}
