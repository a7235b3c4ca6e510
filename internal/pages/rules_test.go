package pages_test

import (
	"encoding/csv"
	"html"
	"io/fs"
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"

	"tiedown/internal/hangar"
	"tiedown/internal/regulation"
)

// Where conditions stand on the page of a row, and what none of the texts that people read is: a bare name.
var (
	conditions = regexp.MustCompile(`(?s)<dt>(?:When|Must hold|Unless)</dt><dd>(.*?)</dd>`)
	bareName   = regexp.MustCompile(`^(or )?(not so: )?[^ ]*$|[a-z]:[a-z]|^!`)
)

// TestEveryRowOfTheBookIsReached walks every row of every file of the tables by its address, and every page of every table
// by the links from the first on: each row stands in the list of its table, its page says its words and its paragraph, in
// words and not in the notation of the tables, and each page is light.
func TestEveryRowOfTheBookIsReached(t *testing.T) {
	t.Parallel()
	v := newClub(t).signIn(pilot)
	first := v.get("/rules")
	for _, name := range regulation.TableNames() {
		raw, err := fs.ReadFile(regulation.Tables(), name+".csv")
		if err != nil {
			t.Fatal(err)
		}
		rows, err := csv.NewReader(strings.NewReader(string(raw))).ReadAll()
		if err != nil {
			t.Fatal(err)
		}
		list := "/rules?table=" + name
		if !strings.Contains(first.body, `href="`+list+`"`) {
			t.Errorf("the book does not lead to its table %s", name)
		}
		var pages []string
		for list != "" {
			page := v.get(list)
			if page.status != http.StatusOK || len(page.body) > 100_000 {
				t.Fatalf("%s: %d, %d bytes", list, page.status, len(page.body))
			}
			pages = append(pages, page.body)
			_, rest, _ := strings.Cut(page.body, `rel="next" href="`)
			list, _, _ = strings.Cut(rest, `"`)
			list = html.UnescapeString(list)
		}
		listed := strings.Join(pages, "")
		for _, row := range rows[1:] {
			path := "/rules/" + name + "/" + row[0]
			if !strings.Contains(listed, `href="`+path+`"`) {
				t.Errorf("%s does not stand in the list of its table", path)
			}
			page := v.get(path)
			if page.status != http.StatusOK || len(page.body) > 100_000 {
				t.Fatalf("%s: %d, %d bytes", path, page.status, len(page.body))
			}
			text := html.UnescapeString(page.body)
			for i, column := range rows[0] {
				if (column == "words" || column == "citation" || column == "source" || column == "holds" || column == "title") && !strings.Contains(text, row[i]) {
					t.Errorf("%s does not say its %s: %q", path, column, row[i])
				}
			}
			for _, field := range conditions.FindAllStringSubmatch(page.body, -1) {
				for part := range strings.SplitSeq(strings.NewReplacer(`<ul class="plain">`, "", "</ul>", "", "<li>", "", "</li>", "\n").Replace(field[1]), "\n") {
					if part != "" && bareName.MatchString(part) {
						t.Errorf("%s has the notation of the tables: %s", path, part)
					}
				}
			}
		}
	}
	for _, path := range []string{"/rules/requirements/91.205-z", "/rules/nowhere/91.205-b-1", "/rules/items/91.205-b-1"} {
		if got := v.get(path); got.status != http.StatusNotFound {
			t.Errorf("%s: %d", path, got.status)
		}
	}
}

// TestTheBookIsSearched looks rows up by paragraph, by the name of an item, by a word and by how well they were read.
func TestTheBookIsSearched(t *testing.T) {
	t.Parallel()
	v := newClub(t).signIn(pilot)
	for _, c := range []struct {
		asks      string
		has, lack string
	}{
		{"q=" + url.QueryEscape("91.205(c)(4)"), "/rules/requirements/91.205-c-4", "/rules/requirements/91.205-b-1"},
		{"q=" + url.QueryEscape("Landing LIGHT"), "/rules/requirements/91.205-c-4", "/rules/requirements/91.205-b-3"},
		{"q=landing-light", "/rules/items/landing-light", "/rules/requirements/91.205-b-3"},
		{"q=continue+anticollision", "/rules/reliefs/b11-continue", "/rules/reliefs/elt-ferry"},
		{"status=memory&table=interactions", "/rules/interactions/two-communication-radios", "/rules/items/adf"},
		{"q=" + url.QueryEscape(`"><script>window.ran=1</script>`), "Nothing is found", "<script>window"},
	} {
		got := v.get("/rules?" + c.asks)
		if got.status != http.StatusOK || !strings.Contains(got.body, c.has) || strings.Contains(got.body, c.lack) {
			t.Errorf("%s: %d, has %q %v, has %q %v", c.asks, got.status, c.has, strings.Contains(got.body, c.has), c.lack, strings.Contains(got.body, c.lack))
		}
	}
	page := v.get("/rules/requirements/91.205-c-4")
	for _, want := range []string{"the flight is for hire", "at night", "Landing light", "must be found", "Verified", "the demonstration aircraft", "Grounded"} {
		if !strings.Contains(page.body, want) {
			t.Errorf("the row of the landing light does not say %q", want)
		}
	}
}

var citing = regexp.MustCompile(`<a href="(/rules/[^"]+)"><cite>([^<]+)</cite>`)

// TestCitationsLeadToTheirRows follows every citation on the answers of the club's fleet, by day and by night, to its row,
// which says the same paragraph.
func TestCitationsLeadToTheirRows(t *testing.T) {
	t.Parallel()
	c := loaded(t)
	v := c.signIn(pilot)
	fleet, err := c.service.Fleet(t.Context(), c.who, hangar.Page{Limit: 50})
	if err != nil {
		t.Fatal(err)
	}
	seen, tables := map[string]bool{}, map[string]bool{}
	for _, a := range fleet {
		for _, flight := range []string{"", "?rules=ifr&nav=vor&hire=yes", "?at=" + c.clock().Format("2006-01-02") + "T23:30&airspace=unknown"} {
			page := v.get("/aircraft/" + a.ID.String() + flight)
			if page.status != http.StatusOK {
				t.Fatalf("%s: %d", flight, page.status)
			}
			for _, m := range citing.FindAllStringSubmatch(page.body, -1) {
				if seen[m[1]] {
					continue
				}
				seen[m[1]] = true
				tables[strings.Split(m[1], "/")[2]] = true
				if row := v.get(m[1]); row.status != http.StatusOK || !strings.Contains(row.body, m[2]) {
					t.Errorf("%s: %d, and says %s %v", m[1], row.status, m[2], strings.Contains(row.body, m[2]))
				}
			}
		}
	}
	t.Logf("%d rows of %d tables are cited", len(seen), len(tables))
	if len(seen) < 10 || !tables["requirements"] || !tables["procedure"] || !tables["steps"] {
		t.Errorf("too few citations lead anywhere: %v", tables)
	}
}
