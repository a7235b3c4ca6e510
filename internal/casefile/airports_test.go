package casefile_test

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"

	"tiedown/internal/casefile"
)

const airportHeader = "ident,name,latitude_deg,longitude_deg\n"

// TestAirportsAreReadByTheNamesOfTheirColumns: any order, any others beside, quotes, either line end, and a byte order mark.
func TestAirportsAreReadByTheNamesOfTheirColumns(t *testing.T) {
	t.Parallel()
	for what, raw := range map[string]string{
		"plain":         airportHeader + "N0-7,\"Sedge, \"\"Old\"\"\",40.4,-75.2\nN0WH,Whin Hill,-12.5,1e2\n",
		"other columns": "id,longitude_deg,latitude_deg,type,name,ident\r\n1,-75.2,40.4,x,\"Sedge, \"\"Old\"\"\",N0-7\r\n2,1e2,-12.5,,Whin Hill,N0WH\r\n",
		"marked":        "\ufeff" + airportHeader + "N0-7,\"Sedge, \"\"Old\"\"\",+40.4,-75.20\nN0WH,Whin Hill,-12.5,100",
	} {
		got, err := casefile.ReadAirports([]byte(raw))
		want := []casefile.Airport{{Ident: "N0-7", Name: `Sedge, "Old"`, Lat: 40.4, Lon: -75.2}, {Ident: "N0WH", Name: "Whin Hill", Lat: -12.5, Lon: 100}}
		if err != nil || !slices.Equal(got, want) {
			t.Errorf("%s: %+v, %v", what, got, err)
		}
	}
}

// TestABadListOfAirports names every fault with its line, and reads nothing.
func TestABadListOfAirports(t *testing.T) {
	t.Parallel()
	var tooMany strings.Builder
	tooMany.WriteString(airportHeader)
	for i := range 100_001 {
		fmt.Fprintf(&tooMany, "N%d,a,0,0\n", i)
	}
	for what, c := range map[string]struct {
		raw  string
		want []string
	}{
		"nothing":      {"", []string{"1 header document", "1 header document", "1 header document", "1 header document"}},
		"no airport":   {airportHeader, []string{"1 required document"}},
		"no longitude": {"ident,name,latitude_deg\nA,b,1\n", []string{"1 header document"}},
		"twice":        {"ident,ident,name,latitude_deg,longitude_deg\nA,A,b,1,1\n", []string{"1 header document"}},
		"not UTF-8":    {airportHeader + "A,\xff,1,1\n", []string{"2 utf-8 document"}},
		"no CSV":       {airportHeader + "A,b,1,1\nB,\"b,1,1\n", []string{"3 csv document"}},
		"every field": {
			airportHeader + "A,b,1,1\nA, c,nan,1\nB b,,91,0x1\nC,d,1\nD,\"e\nf\",1,-180.1\nE,g,1_0,1\n",
			[]string{
				"3 stray-space name", "3 range latitude_deg", "3 unique ident", "4 range latitude_deg", "4 range longitude_deg", "4 form ident", "4 name name",
				"5 columns document", "7 range longitude_deg", "6 name name", "8 range latitude_deg",
			},
		},
		"too many": {tooMany.String(), []string{"100002 length document"}},
	} {
		_, err := casefile.ReadAirports([]byte(c.raw))
		var bad casefile.Faults
		errors.As(err, &bad)
		var got []string
		for _, f := range bad {
			got = append(got, fmt.Sprintf("%d %s %s", f.Line, f.Rule, f.Field))
		}
		if !slices.Equal(got, c.want) {
			t.Errorf("%s: %q, want %q", what, got, c.want)
		}
	}
	_, err := casefile.ReadAirports([]byte(airportHeader + strings.Repeat("x y,,91,181\n", 400)))
	var bad casefile.Faults
	if errors.As(err, &bad); len(bad) != 1001 || bad[1000].Rule != "more" {
		t.Errorf("%d faults are told", len(bad))
	}
}

// FuzzAirports holds that whatever is sent is either read whole or refused, and that what is read is good.
func FuzzAirports(f *testing.F) {
	f.Add([]byte(airportHeader + "N0-7,Sedge,40.4,-75.2\n"))
	f.Add([]byte("a,\"b"))
	f.Fuzz(func(t *testing.T, raw []byte) {
		airports, err := casefile.ReadAirports(raw)
		if (err == nil) != (len(airports) > 0) {
			t.Fatalf("%d airports, %v", len(airports), err)
		}
		seen := map[string]bool{}
		for _, a := range airports {
			if seen[a.Ident] || !casefile.IsAirportIdent(a.Ident) || a.Name == "" || a.Lat < -90 || a.Lat > 90 || a.Lon < -180 || a.Lon > 180 {
				t.Fatalf("%+v", a)
			}
			seen[a.Ident] = true
		}
	})
}
