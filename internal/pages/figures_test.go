package pages_test

import (
	"testing"

	"tiedown/internal/techlog"
)

// figureSights are the pages about figures, by name.
func figureSights(t *testing.T, c *club, byMark map[string]techlog.Aircraft) [][2]string {
	t.Helper()
	of := func(mark, page string) string { return "/aircraft/" + byMark[mark].ID.String() + "/" + page }
	return [][2]string{
		{"trends", of("N012TW", "trends")},
		{"trends of nothing", of("N005TW", "trends")},
		{"trend that is flagged", of("N012TW", "trends/tire-pressure-left")},
		{"trend of oil", of("N012TW", "trends/oil-level")},
		{"due", of("N012TW", "due")},
		{"due and not known", of("N005TW", "due")},
		{"due in the fleet", "/due"},
	}
}

func TestFigureSights(t *testing.T) {
	t.Parallel()
	c := loaded(t)
	c.join(c.org, "everything@three-willows.example", "Every Role", techlog.Roles()...)
	fleet := sights(t, c)
	for _, l := range looks(true) {
		t.Run(l.String(), func(t *testing.T) {
			t.Parallel()
			b := c.tab(t, l)
			b.watchShifts()
			b.signIn("everything@three-willows.example")
			for _, page := range fleet[:len(fleet)-25] {
				name := page[0] + ", " + l.String()
				b.open(page[1])
				b.isLight(name)
				b.shoot(page[0] + " " + l.String() + " closed")
				b.do(openDetails())
				b.fits(name)
				b.isAccessible(name, l)
				b.shoot(page[0] + " " + l.String())
			}
		})
	}
}
