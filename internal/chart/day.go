package chart

// Lit is a stretch of a day with one light: night, twilight or day.
type Lit struct {
	From, To float64 // hours from the beginning of the picture
	Light    string
}

// Window is a flight on a day.
type Window struct{ From, To float64 }

// Day is how a day is lit, with a flight on it.
type Day struct {
	Words
	Hours  float64 // that the picture is long
	Lit    []Lit
	Flight Window
	Ticks  []Tick // instants worth naming: sunrise, sunset
	Naming string // of the flight
	Clock  []Tick // hours of the clock
}

// How high a light stands: told apart without color.
var lightHeights = map[string]float64{"night": 18, "twilight": 27, "day": 38}

// Draw draws it.
func (t *Day) Draw() Markup {
	const height, ground, top = 104.0, 66.0, 16.0
	d := begin("day", height, t.Words)
	x := func(hours float64) float64 { return hours / t.Hours }
	for _, l := range t.Lit {
		tall := lightHeights[l.Light]
		d.rect("l-"+l.Light, x(l.From), ground-tall, x(l.To)-x(l.From), tall)
	}
	d.line("ground", 0, ground, 1, ground)
	last := -1.0
	for _, tick := range t.Ticks {
		d.line("tick", x(tick.X), ground, x(tick.X), ground+6)
		if x(tick.X)-last > .1 { // there is room
			d.text("scale strong", x(tick.X), ground+19, sideOf(x(tick.X)), tick.Words)
			last = x(tick.X)
		}
	}
	for _, tick := range t.Clock {
		d.text("scale", x(tick.X), height-3, sideOf(x(tick.X)), tick.Words)
	}
	from, to := x(t.Flight.From), x(t.Flight.To)
	d.rect("flight", from, top+4, max(to-from, .006), ground-top+2)
	for _, l := range t.Lit {
		if x(l.To)-x(l.From) > .12 && l.Light != "twilight" {
			d.text("l-words l-words-"+l.Light, x(l.From)/2+x(l.To)/2, ground-5, middle, l.Light)
		}
	}
	d.text("flight-words", min(max(from/2+to/2, 0), 1), top-2, sideOf(from/2+to/2), t.Naming)
	return d.end()
}
