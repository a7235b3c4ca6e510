package main

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"slices"
	"strconv"
	"strings"

	"tiedown/internal/audit"
	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

// maxReceipt bounds a receipt, in bytes: a determination with everything that it rests on is the longest.
const maxReceipt = 16 << 20

// errAltered is what verifying ends with when something was altered; what it is has been printed.
var errAltered = errors.New("something on record is not as it was entered")

// auditCommand does what is asked of the log.
func auditCommand(ctx context.Context, p program) int {
	if len(p.args) > 0 {
		name := p.args[0]
		p.args = p.args[1:]
		switch name {
		case "verify":
			return p.auditVerify(ctx)
		case "receipt":
			return p.auditReceipt(ctx)
		case "check":
			return p.auditCheck()
		case "key":
			return p.auditKey()
		}
	}
	return p.misuse("tiedown audit verify|receipt|check|key")
}

func (p program) misuse(usage string) int {
	fmt.Fprintln(p.err, "usage: "+usage)
	return exitUsage
}

// badInput says why what was given cannot be worked on.
func (p program) badInput(err error) int {
	fmt.Fprintf(p.err, "tiedown: %v\n", err)
	return exitUsage
}

// option takes every --name VALUE out of the arguments.
func (p *program) option(name string) ([]string, error) {
	var values []string
	for {
		i := slices.Index(p.args, name)
		if i < 0 {
			return values, nil
		}
		if i+1 == len(p.args) {
			return nil, fmt.Errorf("%s: give a value after it", name)
		}
		values = append(values, p.args[i+1])
		p.args = slices.Delete(slices.Clone(p.args), i, i+2)
	}
}

// publicKeys reads keys that are given as they are printed, or as files that hold them.
func publicKeys(given []string) ([]audit.PublicKey, error) {
	var keys []audit.PublicKey
	for _, g := range given {
		k, err := audit.ParsePublicKey(g)
		if err != nil {
			raw, unread := os.ReadFile(g)
			if unread != nil {
				return nil, fmt.Errorf("--key %s: %w", g, err)
			}
			if k, err = audit.ParsePublicKey(string(raw)); err != nil {
				return nil, fmt.Errorf("--key %s: %w", g, err)
			}
		}
		keys = append(keys, k)
	}
	return keys, nil
}

// auditCheck checks a receipt, with nothing but a public key.
func (p program) auditCheck() int {
	given, err := p.option("--key")
	if err != nil {
		return p.badInput(err)
	}
	if len(p.args) != 1 || len(given) == 0 {
		return p.misuse("tiedown audit check FILE|- --key KEY")
	}
	keys, err := publicKeys(given)
	if err != nil {
		return p.badInput(err)
	}
	raw, err := p.read(p.args[0], maxReceipt)
	if err != nil {
		return p.badInput(err)
	}
	receipt, err := audit.ParseReceipt(string(raw))
	if err != nil {
		return p.badInput(fmt.Errorf("%s: %w", p.args[0], err))
	}
	c, err := receipt.Check(keys...)
	if err != nil {
		fmt.Fprintf(p.out, "BAD: %v\n", err)
		return exitFailed
	}
	e := receipt.Entry
	fmt.Fprintf(p.out, "Good: %s %s was entered by %s at %s as entry %d of %d, from 0, in the log of organization %s.\n\n%s",
		e.Table, e.Key, audit.Text(e.By), audit.Instant(e.At), receipt.Number, c.Size, c.Organization, receipt.Record)
	return exitOK
}

// auditKey prints the public key.
func (p program) auditKey() int {
	if len(p.args) > 0 {
		return p.misuse("tiedown audit key")
	}
	c, err := p.config()
	if err != nil {
		return p.fail(err)
	}
	h := &house{config: c}
	key, err := h.logKey()
	if err != nil {
		return p.fail(err)
	}
	fmt.Fprintln(p.out, key.Public())
	return exitOK
}

// auditReceipt prints the receipt of a record.
func (p program) auditReceipt(ctx context.Context) int {
	const usage = "tiedown audit receipt ORGANIZATION-ID squawk-entry|deferral|determination|signature|walkaround|walkaround-report RECORD-ID [NUMBER]"
	if len(p.args) != 3 && len(p.args) != 4 {
		return p.misuse(usage)
	}
	organization, known := techlog.ParseID(p.args[0])
	of := hangar.Receiptable(p.args[1])
	record, is := techlog.ParseID(p.args[2])
	number := 0
	var err error
	if len(p.args) == 4 {
		number, err = strconv.Atoi(p.args[3])
	}
	if !known || !is || err != nil || !slices.Contains(hangar.Receiptables(), of) {
		return p.misuse(usage)
	}
	return p.withHouse(ctx, func(h *house) error {
		receipt, err := h.service.Receipt(ctx, techlog.Principal{Organization: organization}, of, record, number)
		if err == nil {
			fmt.Fprint(p.out, receipt)
		}
		return err
	})
}

// auditVerify holds the records of one organization, or of all, against their logs.
func (p program) auditVerify(ctx context.Context) int {
	given, err := p.option("--key")
	if err != nil {
		return p.badInput(err)
	}
	files, err := p.option("--checkpoint")
	if err != nil {
		return p.badInput(err)
	}
	var only techlog.ID
	if len(p.args) > 1 {
		return p.misuse("tiedown audit verify [--key KEY]... [--checkpoint FILE]... [ORGANIZATION-ID]")
	}
	if len(p.args) == 1 {
		var ok bool
		if only, ok = techlog.ParseID(p.args[0]); !ok {
			return p.badInput(fmt.Errorf("%q is no identifier of an organization", p.args[0]))
		}
	}
	keys, err := p.verifyingKeys(given)
	if err != nil {
		return p.badInput(err)
	}
	elsewhere, err := p.keptElsewhere(files, keys)
	if err != nil {
		return p.badInput(err)
	}
	for of := range elsewhere {
		if !only.IsZero() && of != only.String() {
			return p.badInput(fmt.Errorf("a checkpoint is of another organization, %s", of))
		}
	}
	err = p.lookAtRecords(ctx, func(ctx context.Context, h *house) error {
		if err := h.openFiles(ctx); err != nil {
			return err
		}
		organizations, err := h.organizations(ctx, only)
		if err != nil {
			return err
		}
		return p.verifyAll(ctx, h, organizations, keys, elsewhere)
	})
	if errors.Is(err, errAltered) {
		return exitFailed
	}
	if err != nil {
		return p.fail(err)
	}
	return exitOK
}

// verifyingKeys are those that are given, and the installation's own if its file is there.
func (p program) verifyingKeys(given []string) ([]audit.PublicKey, error) {
	keys, err := publicKeys(given)
	if err != nil {
		return nil, err
	}
	c, err := p.config()
	if err != nil {
		return nil, err
	}
	h := &house{config: c}
	if _, err := os.Stat(h.logKeyFile()); errors.Is(err, fs.ErrNotExist) {
		if len(keys) == 0 {
			return nil, fmt.Errorf("there is no key to check signatures by at %s: give its public half with --key", h.logKeyFile())
		}
		return keys, nil
	}
	own, err := h.logKey()
	if err != nil {
		return nil, err
	}
	return append(keys, own.Public()), nil
}

// keptElsewhere reads checkpoints that were kept out of the database's reach, by organization.
func (p program) keptElsewhere(files []string, keys []audit.PublicKey) (map[string][]audit.Kept, error) {
	kept := map[string][]audit.Kept{}
	for _, name := range files {
		raw, err := p.read(name, maxReceipt)
		if err != nil {
			return nil, err
		}
		signed := string(raw)
		if receipt, err := audit.ParseReceipt(signed); err == nil { // has one in it
			signed = receipt.Checkpoint
		}
		c, key, err := audit.OpenCheckpoint(signed, keys...)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", name, err)
		}
		kept[c.Organization] = append(kept[c.Organization], audit.Kept{Size: c.Size, Signer: key.Name(), At: c.At, Signed: signed})
	}
	return kept, nil
}

// organizations are all, or only one.
func (h *house) organizations(ctx context.Context, only techlog.ID) ([]techlog.Organization, error) {
	all, err := h.store.Organizations(ctx)
	if err != nil || only.IsZero() {
		return all, err
	}
	for _, o := range all {
		if o.ID == only {
			return []techlog.Organization{o}, nil
		}
	}
	return nil, fmt.Errorf("there is no organization %s", only)
}

func (p program) verifyAll(ctx context.Context, h *house, organizations []techlog.Organization, keys []audit.PublicKey, elsewhere map[string][]audit.Kept) error {
	altered := 0
	for _, o := range organizations {
		faults := 0
		fmt.Fprintf(p.out, "%s, organization %s\n", audit.Text(o.Name), o.ID)
		entries, err := h.store.VerifyLog(ctx, o.ID, keys, elsewhere[o.ID.String()], func(f audit.Fault) {
			faults++
			fmt.Fprintf(p.out, "  %s\n", f)
		})
		if err != nil {
			return err
		}
		delete(elsewhere, o.ID.String())
		pieces, err := hangar.VerifyFiles(ctx, h.store, h.files, o.ID, func(photo techlog.ID, says string) {
			faults++
			fmt.Fprintf(p.out, "  photo %s: %s\n", photo, says)
		})
		if err != nil {
			return err
		}
		if altered += faults; faults == 0 {
			fmt.Fprintf(p.out, "  %d entries: every record is as it was entered\n", entries)
			if pieces > 0 {
				fmt.Fprintf(p.out, "  %d pieces of content: every photo is as it was entered\n", pieces)
			}
		}
	}
	for organization := range elsewhere {
		altered++
		fmt.Fprintf(p.out, "organization %s\n  it is missing: a checkpoint of its log was kept elsewhere\n", organization)
	}
	if altered > 0 {
		fmt.Fprintf(p.out, "%d faults: %s\n", altered, strings.TrimSpace(errAltered.Error()))
		return errAltered
	}
	return nil
}
