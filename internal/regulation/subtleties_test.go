package regulation_test

import (
	"strconv"
	"strings"
	"testing"
)

// subtleties is how many points there are at which the first answer that comes to mind is wrong. Each has its number, and
// at least one story is titled by it.
const subtleties = 70

// TestEverySubtletyIsTold holds that none of them is left out.
func TestEverySubtletyIsTold(t *testing.T) {
	t.Parallel()
	told := map[string]bool{}
	for _, s := range stories(t) {
		if number, _, ok := strings.Cut(strings.TrimPrefix(s.story.Title, "Subtlety "), ":"); ok {
			told[number] = true
		}
	}
	for n := 1; n <= subtleties; n++ {
		if !told[strconv.Itoa(n)] {
			t.Errorf("no story is titled Subtlety %d", n)
		}
	}
}
