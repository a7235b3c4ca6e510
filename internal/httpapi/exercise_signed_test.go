package httpapi_test

import (
	"net/http"
	"testing"

	"tiedown/api/client"
	"tiedown/internal/casefile"
	"tiedown/internal/techlog"
)

// signing are the operations that a mechanic may make good use of.
var signing = map[string]bool{
	"previewSignature": true, "signSquawk": true, "previewInspection": true, "signInspection": true, "moveSquawk": true,
}

// signedRequests makes good requests for what is signed, and for what lets people sign.
func (x *exercise) signedRequests(t *testing.T) map[string]func() asked {
	t.Helper()
	c := x.crew
	act := c.byMechanic(outOfUse("deactivated"))
	test := c.byMechanic(casefile.Act{Action: "inspect", Inspection: "static-system-test", Extent: "43 appendix E(a).", Completed: "2026-11-25"})
	mechanic := c.hands[techlog.Mechanic]
	preview := func(path string, a casefile.Act) asked {
		return asked{method: "POST", path: path + "/to-sign", body: marshal(t, map[string]any{"act": a}), token: mechanic}
	}
	sign := func(path string, a casefile.Act) asked {
		shown := decoded[client.ShownRecord](t, c.show(t, techlog.Mechanic, path, a), http.StatusOK)
		return c.request(t, techlog.Mechanic, path, shown, a)
	}
	certificate := client.CertificateEntry{
		Person: client.ID(c.persons[techlog.Pilot]), Name: "R. Tansy", Kind: "pilot", Number: "1", Grade: new("sport"), ValidFrom: "2026-01-01",
	}
	standing := client.StandingEntry{Person: client.ID(c.persons[techlog.Pilot]), Name: "R. Tansy", Kind: "flies", ValidFrom: "2026-01-01"}
	kept := func(path string, entry any) (asked, string) {
		q := asked{method: "POST", path: path, body: marshal(t, entry), token: c.hands[techlog.Administrator]}
		return q, path + "/" + created[map[string]any](t, x.rig, q)["id"].(string)
	}
	change := func(path string, entry any) asked {
		q, made := kept(path, entry)
		q.method, q.path, q.header = "PUT", made, ifMatch(1)
		return q
	}
	show := func(path string, entry any) asked {
		_, made := kept(path, entry)
		return asked{method: "GET", path: made}
	}
	return map[string]func() asked{
		"previewSignature":  func() asked { return preview(at(c.confirmed(t, dark)), act) },
		"signSquawk":        func() asked { return sign(at(c.confirmed(t, dark)), act) },
		"previewInspection": func() asked { return preview(c.path(), test) },
		"signInspection":    func() asked { return sign(c.path(), test) },
		"listSignatures":    func() asked { return asked{method: "GET", path: c.path() + "/signatures"} },
		"moveSquawk": func() asked {
			return asked{
				method: "POST", path: at(c.report(t, dark)) + "/moves", body: `{"step": "confirm", "words": "Seen."}`, header: ifMatch(1), token: mechanic,
			}
		},
		"listCertificates": func() asked { return asked{method: "GET", path: "/v1/certificates"} },
		"addCertificate": func() asked {
			return asked{method: "POST", path: "/v1/certificates", body: marshal(t, certificate), token: c.hands[techlog.Administrator]}
		},
		"showCertificate":   func() asked { return show("/v1/certificates", certificate) },
		"changeCertificate": func() asked { return change("/v1/certificates", certificate) },
		"listStandings":     func() asked { return asked{method: "GET", path: "/v1/standings"} },
		"addStanding": func() asked {
			onAircraft := standing
			onAircraft.Aircraft = &c.aircraft.Id
			return asked{method: "POST", path: "/v1/standings", body: marshal(t, onAircraft), token: c.hands[techlog.Administrator]}
		},
		"showStanding":   func() asked { return show("/v1/standings", standing) },
		"changeStanding": func() asked { return change("/v1/standings", standing) },
	}
}

// signedConflict is a request that contradicts what has been signed or kept.
func (x *exercise) signedConflict(t *testing.T, operation string) asked {
	t.Helper()
	c := x.crew
	switch operation {
	case "previewInspection":
		q := x.good["signInspection"]()
		signed := decoded[client.SignedRecord](t, x.rig.ask(t, q), http.StatusCreated)
		correction := c.byMechanic(casefile.Act{Action: "correct", Corrects: signed.Signature.Id.String(), Words: "The extent was larger."})
		correction = c.byMechanic(casefile.Act{
			Action: "correct", Words: "Larger still.",
			Corrects: decoded[client.SignedRecord](t, c.trySign(t, techlog.Mechanic, c.path(), correction), http.StatusCreated).Signature.Id.String(),
		})
		return asked{method: "POST", path: c.path() + "/to-sign", body: marshal(t, map[string]any{"act": correction}), token: c.hands[techlog.Mechanic]}
	case "moveSquawk":
		q := x.good[operation]()
		q.body = `{"step": "reopen", "words": "It was never closed."}`
		return q
	case "changeCertificate", "changeStanding":
		q := x.good[operation]()
		q.body = q.body[:len(q.body)-1] + `, "ended": true}`
		if got := x.rig.ask(t, q); got.status != http.StatusOK {
			t.Fatalf("ended: %d %s", got.status, got.body)
		}
		q.header = ifMatch(2)
		return q
	}
	q := x.good[operation]()
	nothing := c.byMechanic(returning())
	q.body = marshal(t, map[string]any{"act": nothing})
	if operation == "signSquawk" {
		q.body = marshal(t, client.Signing{Act: nothing, Digest: hexOf([32]byte{}), Proof: client.Proof{Password: new("x")}})
	}
	return q
}
