package pages_test

import (
	"context"
	"encoding/json"
	"errors"
	"net/netip"
	"testing"

	"tiedown/internal/casefile"
	"tiedown/internal/hangar"
	"tiedown/internal/notice/webhook"
	"tiedown/internal/techlog"
)

// nowhere finds no host: the tests send nothing.
type nowhere struct{}

func (nowhere) LookupNetIP(context.Context, string, string) ([]netip.Addr, error) {
	return nil, errors.New("no such host")
}

// sealer seals the secrets of the tests' webhooks.
func sealer(t *testing.T) webhook.Vault {
	t.Helper()
	v, err := webhook.NewVault([]byte("a secret for tests"))
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// memberOf is the member of an address.
func (c *club) memberOf(email techlog.Email) techlog.Member {
	c.t.Helper()
	members, err := c.service.Members(c.t.Context(), c.who, hangar.Page{Limit: 50})
	if err != nil {
		c.t.Fatal(err)
	}
	for _, m := range members {
		if m.Email == email {
			return m
		}
	}
	c.t.Fatalf("nobody has the address %s", email)
	return techlog.Member{}
}

// left is somebody who has left.
func (c *club) left() techlog.ID {
	c.t.Helper()
	person := c.join(c.org, "left@three-willows.example", "Rowan Left", techlog.Pilot)
	_, err := c.service.EndMember(c.t.Context(), c.who, person, 1, nil, func(techlog.Member) ([]byte, error) { return nil, nil })
	if err != nil {
		c.t.Fatal(err)
	}
	return person
}

// certificateOf is the first certificate of somebody.
func (c *club) certificateOf(email techlog.Email) techlog.Certificate {
	c.t.Helper()
	list, err := c.service.Certificates(c.t.Context(), c.who, c.memberOf(email).Person, hangar.Page{Limit: 1})
	if err != nil || len(list) == 0 {
		c.t.Fatalf("%v, %v", list, err)
	}
	return list[0]
}

// ownRule gives the organization a rule of its own.
func (c *club) ownRule() string {
	c.t.Helper()
	company, err := c.service.CompanyRules(c.t.Context(), c.who)
	if err != nil {
		c.t.Fatal(err)
	}
	rule := casefile.CompanyRule{
		ID: "company-night-radios", Citation: "Operations manual 4.2", Item: "com-radio", Quantity: "2", When: "night !in-alaska", Words: "Two radios at night.",
	}
	company.Rules = append(company.Rules, rule)
	_, err = c.service.ChangeCompanyRules(c.t.Context(), c.who, company, nil, func(techlog.CompanyRules) ([]byte, error) { return nil, nil })
	if err != nil {
		c.t.Fatal(err)
	}
	return rule.ID
}

// hook is a webhook with deliveries, of which nothing is sent.
func (c *club) hook() techlog.ID {
	c.t.Helper()
	w, _, err := c.service.MakeWebhook(c.t.Context(), c.who, techlog.Webhook{URL: "https://booking.example/tiedown", Kinds: []string{"squawk", "flight.held"}}, nil)
	if err != nil {
		c.t.Fatal(err)
	}
	_, err = c.service.PingWebhook(c.t.Context(), c.who, w.ID, nil, func(w techlog.Webhook) ([]byte, error) { return json.Marshal(w.ID) })
	if err != nil {
		c.t.Fatal(err)
	}
	return w.ID
}
