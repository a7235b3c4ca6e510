package demo

import (
	"context"
	"fmt"
	"math"
	"slices"
	"time"

	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
	"tiedown/internal/walkaround"
)

const (
	// walks is how often somebody has walked round the trainer before the club is shown: every second day for two months.
	walks = 30
	// What each day's flight adds to the meters.
	airADay, hobbsADay, tachADay = 2.0, 2.4, 2.1
)

// measured is what was measured on the n-th walkaround: invented, with one slow leak. The left tire loses an eighth of a
// pound an hour and was filled up once; the oil falls by a tenth of a quart an hour, as usual, and is filled up every eighth
// time; the rest scatters. What is not in it lies in the middle of its limits.
func measured(check string, n int) (float64, bool) {
	scatter := []float64{0, 0.05, -0.05, 0.1, -0.1, 0.05, 0}[n%7]
	levels := map[string]float64{
		"tire-pressure-left": 30.5 - 0.25*float64(n) + scatter, "tire-pressure-right": 29.5 + 2*scatter,
		"oil-level": 7.8 - 0.2*float64(n%8) + scatter/2, "nose-strut": 4 + 2*scatter,
	}
	const filledUp = 13
	if n >= filledUp {
		levels["tire-pressure-left"] += 3.75
	}
	level, ok := levels[check]
	return math.Round(level*20) / 20, ok
}

// loadHistory enters two months of the trainer's walkarounds and meters, on the days on which they would have been. A club
// whose book was begun otherwise, or has come so far, is left as it is.
func (l *loader) loadHistory(ctx context.Context) error {
	aircraft := l.aircraft[fleet[0].file]
	book, err := l.service.Meters(ctx, l.who, aircraft)
	if err != nil {
		return err
	}
	began := walkaround.Sum(trainerInService, -walks*airADay)
	if slices.ContainsFunc(book, func(e walkaround.BookEntry) bool {
		return e.Meter == walkaround.TimeInService && (e.Hours < began || e.Hours >= trainerInService)
	}) {
		return nil
	}
	for n := range walks + 1 {
		at := l.now.Add(-time.Duration(2*(walks-n)) * day)
		if n == walks {
			at = l.now
		}
		if err := l.enterMeters(ctx, aircraft, n, at); err != nil {
			return fmt.Errorf("meters of %s, time %d: %w", fleet[0].registration, n+1, err)
		}
		if n == walks {
			break
		}
		if err := l.walk(ctx, aircraft, n, at.Add(time.Hour)); err != nil {
			return fmt.Errorf("walkaround %d of %s: %w", n+1, fleet[0].registration, err)
		}
	}
	return nil
}

// reading is what a meter shows after so many flights.
func reading(now, perDay float64, n int) *float64 {
	return new(walkaround.Sum(now, -float64(walks-n)*perDay))
}

func (l *loader) enterMeters(ctx context.Context, aircraft techlog.ID, n int, at time.Time) error {
	_, err := l.earlier(at).EnterMeters(ctx, l.who, hangar.MeterReading{
		Aircraft: aircraft, Hobbs: reading(trainerHobbs, hobbsADay, n), Tach: reading(trainerTach, tachADay, n),
		TimeInService: reading(trainerInService, airADay, n),
	}, l.once("meters of %s, %d", fleet[0].registration, n), func([]walkaround.BookEntry) ([]byte, error) { return id(aircraft) })
	return err
}

// walk is one walkaround on which everything was good.
func (l *loader) walk(ctx context.Context, aircraft techlog.ID, n int, at time.Time) error {
	service := l.earlier(at)
	begun, err := parse(service.StartWalkaround(ctx, l.who, hangar.WalkaroundStart{Aircraft: aircraft}, l.once("walkaround %d", n),
		func(v hangar.WalkaroundView) ([]byte, error) { return id(v.Walkaround.ID) }))
	if err != nil {
		return err
	}
	view, err := service.Walkaround(ctx, l.who, begun)
	if err != nil {
		return err
	}
	checks := view.Composed.Checks
	report := hangar.WalkaroundReport{Walkaround: begun, Complete: true}
	for i := range checks {
		report.Results = append(report.Results, walkaround.Result{ID: resultID(begun, i), Check: checks[i].ID, Said: good(&checks[i], n), MadeAt: at})
	}
	_, err = service.ReportResults(ctx, l.who, report, l.once("walkaround %d, results", n), func(r hangar.ReportedWalkaround) ([]byte, error) {
		return id(r.Walkaround.ID)
	})
	return err
}

// resultID is the identifier of the i-th result of a walkaround: the same, whenever it is sent.
func resultID(of techlog.ID, i int) techlog.ID {
	of[14], of[15] = of[14]^byte(i>>8), of[15]^byte(i+1)
	return of
}

// good is what somebody says of a check that is in order.
func good(c *walkaround.Check, n int) walkaround.Answer {
	switch c.Way {
	case walkaround.Measure:
		level, ok := measured(c.ID, n)
		if !ok {
			level = middle(c)
		}
		return walkaround.Answer{Value: &level}
	case walkaround.Sample:
		no := false
		color := c.Color
		if color == "" {
			color = "blue" // of 100LL
		}
		return walkaround.Answer{Color: color, Water: &no, Sediment: &no}
	case walkaround.Compare:
		if c.Meter == walkaround.Hobbs {
			return walkaround.Answer{Value: reading(trainerHobbs, hobbsADay, n)}
		}
		return walkaround.Answer{Value: reading(trainerTach, tachADay, n)}
	case walkaround.Paper:
		a := walkaround.Answer{Present: yes()}
		if c.Dated {
			a.Until = "2031-06-30"
		}
		return a
	default:
		return walkaround.Answer{Outcome: walkaround.Good}
	}
}

// middle is a value in the middle of a check's limits, or a little above the lower one where there is no other.
func middle(c *walkaround.Check) float64 {
	switch {
	case c.AtLeast != nil && c.AtMost != nil:
		return (*c.AtLeast + *c.AtMost) / 2
	case c.AtLeast != nil:
		return *c.AtLeast * 4
	case c.AtMost != nil:
		return *c.AtMost / 2
	default:
		return 1
	}
}
