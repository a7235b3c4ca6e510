package httpapi_test

import (
	"maps"
	"net/http"
	"regexp"
	"slices"
	"strings"
	"testing"

	"tiedown/internal/people"
	"tiedown/internal/techlog"
)

// Who may ask for an operation.
const (
	open   = "anybody" // needs neither token nor session
	member = "member"  // every role, by token and by session
	person = "person"  // everybody who has signed in, by session alone
	signer = "signer"  // every person, but no program
	keeper = "keeper"  // administrators; to others it does not exist
	holder = "holder"  // a person with the certificate for it: nobody by a role alone
	byHand = "by hand" // persons alone, in the roles that follow
)

// walkers are those who walk round aircraft.
const walkers = "pilot mechanic maintenance-control administrator"

// desk are those who keep the schedule.
const desk = "scheduler administrator"

// mayAsk is who may ask for which operation: one of the words above, or the roles. Whoever may not is answered 403, and
// whoever is not known 401.
var mayAsk = map[string]string{
	"showContract": open, "showLogKey": open, "showHealth": open, "showReadiness": open,
	"downloadCalendar": open,                      // whoever has its address
	"showUnsubscribe":  open, "unsubscribe": open, // whoever has the mail
	"signIn": open, "finishSignIn": open, "setPassword": open, "beginOIDC": open, "finishOIDC": open,

	"listBases": member, "showBase": member, "listAircraft": member, "showAircraft": member, "listConfigurations": member,
	"showStatus": member, "showDue": member, "showEnvelope": member, "listDeferredItems": member, "listSquawks": member, "showSquawk": member,
	"printPlacard": member, "printMaintenanceEntry": member, "listFlights": member, "showFlight": member, "listItems": member, "listRules": member,
	"downloadReceipt": member, "showCheckpoint": member, "evaluate": member, "findEnvelope": member, "showCompanyRules": member, "listDeterminations": member, "showDetermination": member,
	"showFlightOutlook": member, "listAlternatives": member, "judgeFlights": member,
	"fileSquawk": member, "addNote": member, "listMembers": member, "showMember": member, "listMemberHistory": member, "listTokens": member,

	"addBase": "scheduler administrator", "changeBase": "scheduler administrator",
	"addAircraft": "maintenance-control administrator", "changeAircraft": "maintenance-control administrator",
	"changeConfiguration": "maintenance-control administrator", "importMEL": "maintenance-control administrator",
	"changeCompanyRules": "maintenance-control administrator",
	"planFlight":         "pilot scheduler administrator", "changeFlight": "pilot scheduler administrator",
	"cancelFlight": "pilot scheduler administrator", "keepDetermination": "pilot scheduler administrator",
	"showNotices": signer, "changeNotices": signer, "listWarnings": member, "showWarning": member, "showWarningSettings": member,
	"changeWarningSettings": "maintenance-control administrator",
	"addMember":             "administrator", "changeMember": "administrator", "endMember": "administrator", "resetPassword": "administrator",
	"listSecurityEvents": "administrator", "revokeToken": keeper,

	"listChecklistTemplates": member, "showChecklistTemplate": member, "exportChecklistTemplate": member, "showChecklist": member,
	"listWalkarounds": member, "showWalkaround": member, "fileFinding": member, "showMeters": member, "listMeterEntries": member, "listChecklistTemplateVersions": member,
	"listTrends": member, "showTrend": member, "exportTrend": member,
	"addChecklistTemplate": "maintenance-control administrator", "changeChecklistTemplate": "maintenance-control administrator",
	"changeChecklist": "maintenance-control administrator",
	"startWalkaround": walkers, "reportResults": walkers, "enterMeters": walkers,

	"addSquawkPhoto": member, "listSquawkPhotos": member, "addResultPhoto": walkers, "listWalkaroundPhotos": member, "addSignaturePhoto": member,
	"listSignaturePhotos": member, "downloadPhoto": member, "downloadThumbnail": member,

	"listAirports": member, "showAirport": member, "importAirports": "scheduler administrator",
	"planSeries": "pilot scheduler administrator", "cancelSeries": "pilot scheduler administrator",
	"listBlocks": member, "showBlock": member, "listShown": member, "recordShown": "pilot scheduler administrator",
	"blockAircraft": "mechanic scheduler maintenance-control administrator", "changeBlock": "mechanic scheduler maintenance-control administrator",
	"cancelBlock": "mechanic scheduler maintenance-control administrator",

	"listEvents":   member,
	"showFreeBusy": member, "downloadFreeBusy": member, "listCalendarFeeds": member, "makeCalendarFeed": signer, "revokeCalendarFeed": keeper,

	"listWebhooks": desk, "makeWebhook": desk, "showWebhook": desk, "changeWebhook": desk, "renewWebhookSecret": desk,
	"revokeOlderWebhookSecrets": desk, "pingWebhook": desk, "listDeliveries": desk, "replayDeliveries": desk,

	"showSession": person, "signOut": person, "chooseOrganization": person, "showMe": person, "listSessions": person, "endSession": person,
	"changePassword": person, "beginPasskey": person, "listPasskeys": person, "addPasskey": person, "removePasskey": person,
	"renewRecoveryCodes": person, "linkIdentity": person, "listMySecurityEvents": person, "makeToken": person,
	"beginProof": signer,

	"listCertificates": member, "showCertificate": member, "listStandings": member, "showStanding": member, "listSignatures": member,
	"addCertificate": byHand + " maintenance-control administrator", "changeCertificate": byHand + " maintenance-control administrator",
	"addStanding": byHand + " maintenance-control administrator", "changeStanding": byHand + " maintenance-control administrator",
	"moveSquawk":       "mechanic maintenance-control administrator", // confirming it; pilots may reopen
	"previewSignature": holder, "signSquawk": holder, "previewInspection": holder, "signInspection": holder,
}

// statusOf is how somebody is answered who asks in a role.
func statusOf(who string, role techlog.Role, byToken bool) int {
	const fine = 0
	switch {
	case who == open, who == member:
		return fine
	case who == person && byToken:
		return http.StatusUnauthorized
	case who == holder, strings.HasPrefix(who, byHand) && byToken:
		return http.StatusForbidden
	case who == signer && byToken:
		return http.StatusForbidden
	case who == person, who == signer:
		return fine
	case who == keeper && role != techlog.Administrator:
		return http.StatusNotFound
	case who == keeper, slices.Contains(strings.Fields(who), string(role)):
		return fine
	default:
		return http.StatusForbidden
	}
}

// operations lists every operation of the contract.
func (x *exercise) operations(t *testing.T) []string {
	t.Helper()
	var all []string
	for _, item := range x.rig.exchange.contract.Paths.Map() {
		for _, o := range item.Operations() {
			all = append(all, o.OperationID)
		}
	}
	slices.Sort(all)
	known := slices.Sorted(maps.Keys(mayAsk))
	if !slices.Equal(all, known) {
		t.Fatalf("the contract has the operations\n%v\nthe table\n%v", all, known)
	}
	return all
}

func wantStatus(t *testing.T, what string, got answered, want int) {
	t.Helper()
	if want == 0 && got.status >= 400 || want != 0 && got.status != want {
		t.Errorf("%s: %d %s, want %d", what, got.status, got.body, want)
	}
}

// TestWhoMayAsk walks every operation as every role, by token and by session, and as nobody.
func TestWhoMayAsk(t *testing.T) {
	t.Parallel()
	x := newExercise(t)
	for _, operation := range x.operations(t) {
		who := mayAsk[operation]
		for _, role := range techlog.Roles() {
			x.as = role
			q := x.good[operation]()
			if q.browser == nil && q.token != "none" {
				q.browser, q.token = x.rig.somebody(t, role), ""
			}
			if who != open {
				byToken := q
				byToken.browser, byToken.token = nil, x.rig.tokens[role]
				wantStatus(t, operation+" by a token as "+string(role), x.rig.ask(t, byToken), statusOf(who, role, true))
				if q.method != http.MethodGet {
					q = x.again(t, operation, role, q.browser)
				}
			}
			wantStatus(t, operation+" as "+string(role), x.rig.ask(t, q), statusOf(who, role, false))
		}
		x.as = techlog.Pilot
		nobody := x.good[operation]()
		nobody.browser, nobody.token = nil, "none"
		want := http.StatusUnauthorized
		if who == open {
			want = 0
		}
		wantStatus(t, operation+" as nobody", x.rig.ask(t, nobody), want)
	}
}

// again is another good request, for the same person where it is not for one of its own.
func (x *exercise) again(t *testing.T, operation string, role techlog.Role, b *browser) asked {
	t.Helper()
	x.as = role
	q := x.good[operation]()
	if q.browser == nil {
		q.browser, q.token = b, ""
	}
	return q
}

// stranger is an administrator of another organization, by a token and by a session.
type stranger struct {
	token   string
	browser *browser
}

func (r *rig) stranger(t *testing.T, name string) stranger {
	t.Helper()
	id := newID()
	if err := r.store.AddOrganization(t.Context(), techlog.Organization{ID: id, Name: name}); err != nil {
		t.Fatal(err)
	}
	token := r.issue(t, techlog.Principal{Organization: id, Name: "somebody else", Roles: techlog.As(techlog.Administrator)})
	a, link, err := r.people.FirstAccount(t.Context(), name+"@elsewhere.example", "Somebody Else", &people.NewMember{
		Organization: id, Name: "Somebody Else", Roles: techlog.As(techlog.Administrator), By: "the program",
	})
	if err != nil {
		t.Fatal(err)
	}
	r.setPassword(t, link, goodPassword)
	return stranger{token, r.signIn(t, a, goodPassword, nil)}
}

func (s stranger) asks(q asked, byToken bool) asked {
	q.header = maps.Clone(q.header)
	if q.header == nil {
		q.header = map[string]string{}
	}
	q.header["X-Request-Id"] = "the-same" // the only part of an answer that differs by itself
	q.token, q.browser = "none", s.browser
	if byToken {
		q.token, q.browser = s.token, nil
	}
	return q
}

var identifiers = regexp.MustCompile(`[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}`)

// TestAStrangerLearnsNothing walks every operation as an administrator of another organization: what is asked about a
// record is answered as of a record that nobody has, letter by letter; and every list is as it is to the administrator
// of a third organization, whose records nobody has ever seen either.
func TestAStrangerLearnsNothing(t *testing.T) {
	t.Parallel()
	x := newExercise(t)
	other, third := x.rig.stranger(t, "other"), x.rig.stranger(t, "third")
	named, listed := 0, 0
	for _, operation := range x.operations(t) {
		who := mayAsk[operation]
		if who == open {
			continue
		}
		for _, byToken := range []bool{true, false} {
			if byToken && (who == person || who == signer || who == holder || strings.HasPrefix(who, byHand)) {
				continue
			}
			q := x.good[operation]()
			nobodys := x.elsewhere(q)
			switch {
			case operation == "addAircraft", operation == "changeCompanyRules", operation == "evaluate", operation == "findEnvelope":
				// They name no record of the path: TestAnotherOrganizationsRecordsDoNotExist has the base of the first.
			case nobodys.path != q.path || nobodys.body != q.body:
				named++
				got, want := x.rig.ask(t, other.asks(q, byToken)), x.rig.ask(t, other.asks(nobodys, byToken))
				absent := http.StatusNotFound
				if operation == "judgeFlights" {
					absent = http.StatusOK // each flight has its own answer
				}
				if operation == "addStanding" {
					absent = http.StatusUnprocessableEntity // it is looked first whose standing it is, which is said to be nobody of theirs
				}
				if got.status != absent || string(got.body) != string(want.body) {
					t.Errorf("%s: %d %s, of nobody's record %d %s", operation, got.status, got.body, want.status, want.body)
				}
			case q.method == http.MethodGet:
				listed++
				mine, theirs := x.rig.ask(t, other.asks(q, byToken)), x.rig.ask(t, third.asks(q, byToken))
				status := http.StatusOK
				if operation == "showAirport" {
					status = http.StatusNotFound // it goes by its identifier, which is that of another's in every list
				}
				if got, want := alike(mine), alike(theirs); mine.status != status || got != want {
					t.Errorf("%s: %d %s, of a third organization %s", operation, mine.status, got, want)
				}
			}
		}
	}
	if named < 40 || listed < 20 {
		t.Errorf("%d requests named a record, %d asked for a list", named, listed)
	}
}

// alike is an answer without what is made up for each organization.
func alike(a answered) string {
	text := identifiers.ReplaceAllString(string(a.body), "id")
	text = regexp.MustCompile(`(?m)^([A-Za-z0-9+/]{43}=|— tiedown .*)$`).ReplaceAllString(text, "hash") // of a checkpoint
	text = regexp.MustCompile(`"form_token":"[^"]*"`).ReplaceAllString(text, `"form_token"`)
	return strings.NewReplacer("other@", "@", "third@", "@", `"other"`, `""`, `"third"`, `""`).Replace(text)
}
