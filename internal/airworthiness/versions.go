package airworthiness

import (
	"cmp"
	"errors"
	"fmt"
	"slices"
)

// Discord is a pair of rows of one name that are no versions of one clause.
type Discord struct {
	Earlier, Later int // their places among the rows; Later is the row at fault
	Says           string
}

// Discords holds the rows of a table against one another. A name may stand more than once where each row takes up on the
// very day on which the one before it ends: they are the versions of one clause. Anything else leaves a gap, in which a
// rule would be lost, or an overlap, in which there would be two.
func Discords(rows []Origin) []Discord {
	byID := map[string][]int{}
	var names []string
	for i := range rows {
		if byID[rows[i].ID] == nil {
			names = append(names, rows[i].ID)
		}
		byID[rows[i].ID] = append(byID[rows[i].ID], i)
	}
	var found []Discord
	for _, name := range names {
		versions := byID[name]
		slices.SortStableFunc(versions, func(a, b int) int { return cmp.Compare(rows[a].From, rows[b].From) })
		for i := range versions[1:] {
			earlier, later := versions[i], versions[i+1]
			if says := rows[earlier].discord(&rows[later]); says != "" {
				found = append(found, Discord{min(earlier, later), max(earlier, later), says})
			}
		}
	}
	return found
}

// discord says what keeps a row from being the version that follows o.
func (o *Origin) discord(next *Origin) string {
	switch {
	case o.To == 0 && next.From == 0:
		return "stands twice"
	case next.From == 0:
		return fmt.Sprintf("has two versions in force before %s", o.To)
	case o.To == 0 || next.From < o.To:
		return fmt.Sprintf("has two versions in force on %s", next.From)
	case next.From > o.To:
		return fmt.Sprintf("has no version in force from %s until %s", o.To, next.From)
	default:
		return ""
	}
}

// checkVersions collects the discords of one table.
func checkVersions(rows []Origin, collect func(string, error)) {
	for _, d := range Discords(rows) {
		collect(rows[d.Later].ID, errors.New("the row "+d.Says))
	}
}

func origins[T any](rows []T, of func(*T) Origin) []Origin {
	all := make([]Origin, len(rows))
	for i := range rows {
		all[i] = of(&rows[i])
	}
	return all
}
