package contract_test

import (
	"context"
	"encoding/json"
	"reflect"
	"slices"
	"strings"
	"testing"

	"github.com/getkin/kin-openapi/openapi3"
	"pgregory.net/rapid"

	"tiedown/api"
	"tiedown/internal/airworthiness"
	"tiedown/internal/casefile"
	"tiedown/internal/contract"
	"tiedown/internal/dispatch"
	"tiedown/internal/inquiry"
	"tiedown/internal/techlog"
	"tiedown/internal/walkaround"
)

func document(t *testing.T) *openapi3.T {
	t.Helper()
	doc, err := openapi3.NewLoader().LoadFromData(api.Document)
	if err != nil {
		t.Fatal(err)
	}
	return doc
}

func TestTheContractIsValid(t *testing.T) {
	t.Parallel()
	doc := document(t)
	if err := doc.Validate(context.Background()); err != nil {
		t.Error(err)
	}
	if !strings.HasPrefix(doc.OpenAPI, "3.0.") {
		t.Errorf("OpenAPI %s: the generator and the checks are held to 3.0", doc.OpenAPI)
	}
	c, err := contract.Current()
	if err != nil {
		t.Fatal(err)
	}
	served, err := openapi3.NewLoader().LoadFromData(c.JSON())
	if err != nil {
		t.Fatal(err)
	}
	if err := served.Validate(context.Background()); err != nil {
		t.Errorf("as it is served: %v", err)
	}
	if strings.Contains(string(c.JSON()), "x-go-") || len(served.Paths.Map()) != len(doc.Paths.Map()) {
		t.Error("the document that is served is not the contract without hints")
	}
}

// bodies walks every schema that a request body can hold.
func bodies(doc *openapi3.T, visit func(path string, s *openapi3.Schema)) {
	var walk func(path string, s *openapi3.Schema)
	walk = func(path string, s *openapi3.Schema) {
		visit(path, s)
		for name, p := range s.Properties {
			walk(path+"."+name, p.Value)
		}
		if s.Items != nil {
			walk(path+"[]", s.Items.Value)
		}
	}
	for _, item := range doc.Paths.Map() {
		for _, o := range item.Operations() {
			if o.RequestBody != nil && o.RequestBody.Value.Content.Get("application/json") != nil {
				walk(o.OperationID, o.RequestBody.Value.Content.Get("application/json").Schema.Value)
			}
		}
	}
}

// TestRequestsAreClosedAndBounded holds that no request can carry an unknown field, nor anything without an end.
func TestRequestsAreClosedAndBounded(t *testing.T) {
	t.Parallel()
	n := 0
	doc := document(t)
	// What an authenticator answers is its own: the browser passes it on, and another program reads it.
	foreign := doc.Components.Schemas["PasskeyJSON"].Value
	bodies(doc, func(path string, s *openapi3.Schema) {
		n++
		switch {
		case s == foreign:
		case s.Type.Is("object"):
			if has := s.AdditionalProperties.Has; has == nil || *has {
				t.Errorf("%s takes unknown fields", path)
			}
		case s.Type.Is("array"):
			if s.MaxItems == nil {
				t.Errorf("%s has no greatest number of entries", path)
			}
		case s.Type.Is("string"):
			if s.MaxLength == nil && s.Enum == nil && s.Format == "" {
				t.Errorf("%s has no greatest length", path)
			}
		case s.Type.Is("number"), s.Type.Is("integer"):
			if s.Min == nil || s.Max == nil {
				t.Errorf("%s has no range", path)
			}
		}
	})
	if n < 300 {
		t.Errorf("only %d places looked at", n)
	}
}

// written are the types whose JSON the schemas describe.
var written = map[string]any{
	"Case": casefile.Case{}, "CaseAircraft": casefile.Aircraft{}, "CaseFlight": casefile.Flight{}, "EarlierLegs": casefile.EarlierLegs{}, "CaseDeferral": casefile.Deferral{},
	"Facts": casefile.Facts{}, "Configuration": casefile.Configuration{}, "Unit": casefile.Unit{}, "OwnList": casefile.OwnList{},
	"OwnRow": casefile.OwnRow{}, "Defect": casefile.Defect{}, "FlightFacts": casefile.FlightFacts{}, "Place": casefile.Place{},
	"Light": casefile.Light{}, "Expect": casefile.Expect{}, "ExpectedFinding": casefile.ExpectedFinding{}, "Answer": casefile.Answer{},
	"Finding": casefile.Finding{}, "Missing": casefile.Missing{}, "Status": casefile.Status{}, "KindStatus": casefile.KindStatus{},
	"Act": casefile.Act{}, "Declared": casefile.Declared{}, "RemovedELT": casefile.RemovedELT{}, "UsedPart": casefile.UsedPart{},
	"AwaitedPart": casefile.AwaitedPart{}, "VORCheck": casefile.VORCheck{},
	"Fault": casefile.Fault{}, "ToDo": casefile.ToDo{}, "CompanyRule": casefile.CompanyRule{}, "MEL": casefile.MEL{}, "MELRow": casefile.MELRow{}, "SpecialFlightPermit": casefile.Permit{},
	"Found": casefile.Found{}, "Policy": casefile.Policy{}, "Confirmation": casefile.Confirmation{},
	"Term": casefile.Term{}, "Limitation": casefile.Limitation{}, "EnvelopeCase": casefile.EnvelopeCase{},
	"Papers": casefile.Papers{}, "Aboard": casefile.Aboard{}, "CertificateAboard": casefile.Certificate{}, "PaperAboard": casefile.Paper{},
	"WeightAndBalance": casefile.WeightBalance{},
	"UpkeepRecord":     casefile.Upkeep{}, "UpkeepItem": casefile.UpkeepItem{}, "DueAt": casefile.DueAt{}, "Every": casefile.Every{},
	"PartReading": casefile.PartReading{}, "WorkDone": casefile.WorkDone{}, "DueList": casefile.DueList{}, "DueItem": casefile.DueItem{},
	"DueBy": casefile.DueBy{}, "Remaining": casefile.Remaining{}, "DueStop": casefile.DueStop{}, "DueRunsOut": casefile.DueRunsOut{},
	"DueHold": casefile.DueHold{}, "DueReading": casefile.DueReading{}, "LaterReading": casefile.LaterReading{}, "StatusNote": casefile.Note{},
	"TrendList": casefile.TrendList{}, "TrendSeries": casefile.TrendSeries{}, "Trend": casefile.Trend{}, "TrendSlope": casefile.Slope{},
	"TrendReaches": casefile.Reaching{}, "ToppingUp": casefile.ToppingUp{}, "TrendPoint": casefile.TrendPoint{},
	"Evaluation": inquiry.Evaluation{}, "Settling": inquiry.Settling{}, "OpenFact": inquiry.OpenFact{}, "FactValue": inquiry.FactValue{},
	"Answered": inquiry.Answered{}, "SettlingSet": inquiry.SettlingSet{}, "SettledOutcome": inquiry.Outcome{}, "AllOfThese": inquiry.AllOfThese{},
	"Envelope": inquiry.Envelope{}, "SimpleFlights": inquiry.SimpleFlights{}, "EnvelopeCell": inquiry.Cell{}, "EnvelopeLimit": inquiry.Limit{},
	"EnvelopeCount": inquiry.Count{}, "EnvelopeRelief": inquiry.Relief{},
	"Expectation": dispatch.Expectation{}, "FlightOutlook": dispatch.Outlook{}, "HoldingBlock": dispatch.Block{}, "OutlookLeg": dispatch.Leg{}, "LegStop": dispatch.Stop{},
	"PermittedPart": dispatch.Part{}, "Departures": dispatch.Departures{}, "DepartureWindow": dispatch.Window{}, "Release": dispatch.Release{},
	"ReleaseCondition": dispatch.Condition{}, "HoldingSquawk": dispatch.Squawk{}, "Alternatives": dispatch.Alternatives{},
	"Alternative": dispatch.Alternative{}, "RowInTheWay": dispatch.InTheWay{}, "BusyTime": dispatch.Busy{},
	"Check": walkaround.Check{}, "ChecklistChanges": walkaround.Changes{}, "PlacedCheck": walkaround.Placed{}, "DroppedCheck": walkaround.Dropped{},
}

// TestSchemasMirrorTheWrittenForm holds that schema and type have the same fields of the same kinds, and that every
// schema that is generated as a type of ours is looked at.
func TestSchemasMirrorTheWrittenForm(t *testing.T) {
	t.Parallel()
	doc := document(t)
	for name, ref := range doc.Components.Schemas {
		v, ok := written[name]
		if goType, ours := ref.Value.Extensions["x-go-type"].(string); ours && (strings.HasPrefix(goType, "casefile.") || strings.HasPrefix(goType, "inquiry.") || strings.HasPrefix(goType, "dispatch.") || strings.HasPrefix(goType, "walkaround.")) {
			if !ok {
				t.Errorf("%s is generated as %s and not looked at", name, goType)
			} else if want := reflect.TypeOf(v).String(); goType != want {
				t.Errorf("%s is generated as %s, want %s", name, goType, want)
			}
		}
		if ok {
			mirror(t, name, ref.Value, reflect.TypeOf(v))
		}
	}
}

func mirror(t *testing.T, name string, s *openapi3.Schema, typ reflect.Type) {
	t.Helper()
	fields := map[string]reflect.StructField{}
	for _, f := range reflect.VisibleFields(typ) {
		if tag, _, _ := strings.Cut(f.Tag.Get("json"), ","); tag != "" {
			fields[tag] = f
		}
	}
	for tag, f := range fields {
		ref, ok := s.Properties[tag]
		if !ok {
			t.Errorf("%s: the field %s is not in the schema", name, tag)
			continue
		}
		if got, want := ref.Value.Type.Slice()[0], schemaType(f.Type); got != want {
			t.Errorf("%s.%s: the schema says %s, the type %s", name, tag, got, want)
		}
		// What is always written must be promised, and the other way round; requests may ask for less.
		always := !strings.Contains(f.Tag.Get("json"), ",omit")
		if promised := slices.Contains(s.Required, tag); always && !promised {
			t.Errorf("%s.%s is always written but not required", name, tag)
		}
	}
	for tag := range s.Properties {
		if _, ok := fields[tag]; !ok {
			t.Errorf("%s: the type has no field %s", name, tag)
		}
	}
}

func schemaType(t reflect.Type) string {
	if t.Kind() == reflect.Pointer {
		t = t.Elem()
	}
	switch {
	case t.String() == "time.Time", t.Kind() == reflect.String:
		return "string"
	case t.Kind() == reflect.Bool:
		return "boolean"
	case t.Kind() == reflect.Int:
		return "integer"
	case t.Kind() == reflect.Float64:
		return "number"
	case t.Kind() == reflect.Slice:
		return "array"
	default:
		return "object"
	}
}

// TestEnumsAreTheEnginesWords holds that the words which the contract lets through are those which the engine knows, and
// that the words which the engine gives are those which the contract promises.
func TestEnumsAreTheEnginesWords(t *testing.T) {
	t.Parallel()
	schemas := document(t).Components.Schemas
	property := func(schema, name string) *openapi3.Schema { return schemas[schema].Value.Properties[name].Value }
	verdicts := []string{}
	for _, v := range airworthiness.Verdicts() {
		verdicts = append(verdicts, v.String())
	}
	for what, c := range map[string]struct {
		schema *openapi3.Schema
		want   []string
	}{
		"verdict":           {schemas["Verdict"].Value, verdicts},
		"outcome":           {schemas["Outcome"].Value, airworthiness.OutcomeNames()},
		"kind of operation": {schemas["KindOfOperation"].Value, airworthiness.KindNames()},
		"squawk state":      {schemas["SquawkState"].Value, words(techlog.SquawkStates())},
		"squawk step":       {property("HistoryEntry", "step"), words(techlog.SquawkSteps())},
		"flight state":      {schemas["FlightState"].Value, words([]techlog.FlightState{techlog.Planned, techlog.Cancelled})},
		"category":          {property("Facts", "category"), airworthiness.Vocabulary("category")},
		"certificate":       {property("Facts", "certificate"), airworthiness.Vocabulary("certificate")},
		"basis":             {property("Facts", "basis"), airworthiness.Vocabulary("basis")},
		"engine":            {property("Facts", "engine"), airworthiness.Vocabulary("engine")},
		"cooling":           {property("Facts", "cooling"), airworthiness.Vocabulary("cooling")},
		"mel authority":     {property("MEL", "authority"), airworthiness.Vocabulary("mel_authority")},
		"mel category":      {property("MELRow", "category"), airworthiness.Vocabulary("mel_category")},
		"class":             {schemas["Class"].Value, airworthiness.Vocabulary("class")},
		"paragraph":         {property("Facts", "experimental_under"), airworthiness.Vocabulary("experimental_under")},
		"airspace":          {property("FlightFacts", "airspace").Items.Value, airworthiness.Vocabulary("airspace")},
		"navigation":        {property("FlightFacts", "navigation").Items.Value, airworthiness.Vocabulary("navigation")},
		"operations":        {property("FlightFacts", "operations").Items.Value, airworthiness.Vocabulary("operations")},
		"station":           {schemas["Station"].Value, words(walkaround.Stations())},
		"check way":         {schemas["CheckWay"].Value, words(walkaround.Ways())},
		"finding class":     {schemas["FindingClass"].Value, words(walkaround.Classes())},
		"circumstance":      {schemas["Circumstance"].Value, words(walkaround.CircumstanceNames())},
		"check outcome":     {schemas["CheckOutcome"].Value, words(walkaround.Outcomes())},
		"check state":       {schemas["CheckState"].Value, words(walkaround.CheckStates())},
		"walkaround state":  {schemas["WalkaroundState"].Value, words(walkaround.States())},
		"meter":             {schemas["MeterName"].Value, words(walkaround.Meters())},
		"atc_authorized":    {property("FlightFacts", "atc_authorized").Items.Value, airworthiness.Vocabulary("atc_authorized")},
	} {
		var got []string
		for _, w := range c.schema.Enum {
			got = append(got, w.(string))
		}
		if !slices.Equal(got, c.want) || len(got) == 0 {
			t.Errorf("%s: the contract has %v, the engine %v", what, got, c.want)
		}
	}
	if most := property("FlightFacts", "airspace").MaxItems; *most < uint64(len(airworthiness.Vocabulary("airspace"))) {
		t.Errorf("a flight may enter only %d kinds of airspace", *most)
	}
}

func words[T ~string](list []T) []string {
	var all []string
	for _, w := range list {
		all = append(all, string(w))
	}
	return all
}

// TestAgreesWithAnotherReader holds our reading of the schemas against kin-openapi's, over cases with one piece changed.
// Where we are stricter on purpose, TestFaultsNameFieldAndRule has it.
func TestAgreesWithAnotherReader(t *testing.T) {
	t.Parallel()
	schema := document(t).Components.Schemas["Case"].Value
	var good any
	if err := json.Unmarshal([]byte(landingLight), &good); err != nil {
		t.Fatal(err)
	}
	refused := 0
	rapid.Check(t, func(t *rapid.T) {
		changed := change(t, good)
		raw, err := json.Marshal(changed)
		if err != nil {
			t.Fatal(err)
		}
		faults := contract.Check("Case", raw)
		var decoded any
		if err := json.Unmarshal(raw, &decoded); err != nil {
			t.Fatal(err)
		}
		theirs := schema.VisitJSON(decoded)
		if (theirs == nil) != (len(faults) == 0) {
			t.Fatalf("%s\nours: %s\ntheirs: %v", raw, describe(faults), theirs)
		}
		if theirs != nil {
			refused++
		}
	})
	if refused == 0 {
		t.Error("nothing was refused: the changes test nothing")
	}
}

// change replaces, drops or adds one piece somewhere in a document.
func change(t *rapid.T, v any) any {
	odd := rapid.SampledFrom([]any{
		nil, true, false, 0.0, 1.0, -1.0, 1e6, 2.5, "", "x", "day-vfr", "airplane",
		[]any{},
		[]any{1.0},
		map[string]any{},
		strings.Repeat("long ", 900),
		map[string]any{"lat": 1.0, "lon": 1.0},
		[]any{"vor", "gnss"},
	})
	switch v := v.(type) {
	case map[string]any:
		keys := slices.Sorted(func(yield func(string) bool) {
			for k := range v {
				if !yield(k) {
					return
				}
			}
		})
		changed := map[string]any{}
		for k, part := range v {
			changed[k] = part
		}
		key := rapid.SampledFrom(append(keys, "strange")).Draw(t, "key")
		switch rapid.IntRange(0, 5).Draw(t, "how") {
		case 0:
			delete(changed, key)
		case 1:
			changed[key] = odd.Draw(t, "by")
		default:
			if part, ok := v[key]; ok {
				changed[key] = change(t, part)
			}
		}
		return changed
	case []any:
		if len(v) == 0 || rapid.Bool().Draw(t, "add") {
			return append(slices.Clone(v), odd.Draw(t, "entry"))
		}
		changed := slices.Clone(v)
		i := rapid.IntRange(0, len(v)-1).Draw(t, "at")
		changed[i] = change(t, v[i])
		return changed
	default:
		return odd.Draw(t, "by")
	}
}

// TestRefusesWhatItDoesNotUnderstand is a museum of contracts that requests could not be held against.
func TestRefusesWhatItDoesNotUnderstand(t *testing.T) {
	t.Parallel()
	for what, c := range map[string]struct{ schema, says string }{
		"a choice":            {`{oneOf: [{type: string}]}`, "OneOf"},
		"no type":             {`{description: anything}`, "no type"},
		"null":                {`{type: string, nullable: true}`, "Nullable"},
		"multiples":           {`{type: integer, multipleOf: 5}`, "MultipleOf"},
		"unique entries":      {`{type: array, uniqueItems: true, items: {type: string}}`, "UniqueItems"},
		"a strange format":    {`{type: string, format: email}`, "email"},
		"a bad pattern":       {`{type: string, pattern: "("}`, "missing closing"},
		"numbers to choose":   {`{type: string, enum: [1]}`, "is no text"},
		"required, not there": {`{type: object, required: [a]}`, "not described"},
		"open by a schema":    {`{type: object, additionalProperties: {type: string}}`, "additionalProperties"},
		"in a part":           {`{type: object, properties: {a: {type: array, items: {type: string, writeOnly: true}}}}`, "property a: items: the keyword WriteOnly"},
	} {
		_, err := contract.Load([]byte("openapi: 3.0.3\ninfo: {title: t, version: '1'}\npaths: {}\ncomponents: {schemas: {S: " + c.schema + "}}"))
		if err == nil || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: %v, want an error with %q", what, err, c.says)
		}
	}
	for what, c := range map[string]struct{ operation, says string }{
		"a form as body":     {`{requestBody: {required: true, content: {text/plain: {schema: {type: string}}}}, responses: {}}`, "JSON alone"},
		"a file of any size": {`{requestBody: {required: true, content: {image/png: {schema: {type: string, format: binary}}}}, responses: {}}`, "of limited size"},
		"files of two sizes": {
			`{requestBody: {required: true, content: {image/png: {schema: {type: string, format: binary, maxLength: 1}}, image/gif: {schema: {type: string, format: binary, maxLength: 2}}}}, responses: {}}`, "of limited size",
		},
		"a body by choice":   {`{requestBody: {content: {application/json: {schema: {type: object}}}}, responses: {}}`, "must be required"},
		"a list as filter":   {`{parameters: [{name: a, in: query, schema: {type: array, items: {type: string}}}], responses: {}}`, "single values"},
		"cookies":            {`{parameters: [{name: a, in: cookie, schema: {type: string}}], responses: {}}`, "cookie"},
		"a strange schema":   {`{parameters: [{name: a, in: query, schema: {type: string, format: ipv4}}], responses: {}}`, "ipv4"},
		"a strange body":     {`{requestBody: {required: true, content: {application/json: {schema: {type: string, format: ipv4}}}}, responses: {}}`, "ipv4"},
		"no document at all": {`{`, "read the contract"},
	} {
		_, err := contract.Load([]byte("openapi: 3.0.3\ninfo: {title: t, version: '1'}\ncomponents: {schemas: {}}\npaths: {/a: {get: " + c.operation + "}}"))
		if err == nil || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: %v, want an error with %q", what, err, c.says)
		}
	}
}

func BenchmarkCheckCase(b *testing.B) {
	raw := []byte(landingLight)
	contract.Check("Case", raw)
	b.SetBytes(int64(len(raw)))
	b.ReportAllocs()
	for b.Loop() {
		contract.Check("Case", raw)
	}
}
