// Package objects keeps content in a bucket of a service that speaks S3.
//
// It owns the names of the objects and the reading of the service's errors. It does not own what content is, when it goes,
// or the bucket itself, which is there before.
package objects

import (
	"bytes"
	"context"
	"encoding/hex"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"path"
	"strings"
	"time"

	"github.com/minio/minio-go/v7"
	"github.com/minio/minio-go/v7/pkg/credentials"

	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

// Settings say where the bucket is, and who asks there.
type Settings struct {
	// URL is the service, the bucket and, if they are not at its top, where in it: https://s3.example/bucket/some/where.
	URL    string
	Region string
	KeyID  string
	Secret string
}

// Bucket keeps content.
type Bucket struct {
	client *minio.Client
	name   string
	prefix string // empty, or with a slash at its end
}

var _ hangar.Files = (*Bucket)(nil)

// Open looks whether the bucket can be reached.
func Open(ctx context.Context, s Settings) (*Bucket, error) {
	u, err := url.Parse(s.URL)
	if err != nil {
		return nil, err
	}
	name, prefix, _ := strings.Cut(strings.Trim(u.Path, "/"), "/")
	if u.Host == "" || name == "" {
		return nil, fmt.Errorf("%s names no bucket", u.Redacted())
	}
	client, err := minio.New(u.Host, &minio.Options{
		Creds: credentials.NewStaticV4(s.KeyID, s.Secret, ""), Secure: u.Scheme == "https", Region: s.Region, BucketLookup: minio.BucketLookupPath,
	})
	if err != nil {
		return nil, err
	}
	b := &Bucket{client: client, name: name}
	if prefix != "" {
		b.prefix = prefix + "/"
	}
	there, err := client.BucketExists(ctx, name)
	if err == nil && !there {
		err = fmt.Errorf("there is no bucket %s", name)
	}
	return b, err
}

// of begins the names of an organization's objects.
func (b *Bucket) of(org techlog.ID) string { return b.prefix + org.String() + "/" }

func (b *Bucket) object(org techlog.ID, digest [32]byte) string {
	return b.of(org) + hex.EncodeToString(digest[:])
}

// Put implements hangar.Files. Its age is that which the service gives it.
func (b *Bucket) Put(ctx context.Context, org techlog.ID, digest [32]byte, content []byte, _ time.Time) error {
	_, err := b.client.PutObject(ctx, b.name, b.object(org, digest), bytes.NewReader(content), int64(len(content)), minio.PutObjectOptions{
		ContentType: "application/octet-stream", DisableMultipart: true,
	})
	return translate(err)
}

// Get implements hangar.Files.
func (b *Bucket) Get(ctx context.Context, org techlog.ID, digest [32]byte) ([]byte, error) {
	object, err := b.client.GetObject(ctx, b.name, b.object(org, digest), minio.GetObjectOptions{})
	if err != nil {
		return nil, translate(err)
	}
	defer object.Close() //nolint:errcheck // it was only read
	content, err := io.ReadAll(object)
	if err != nil {
		return nil, translate(err)
	}
	return content, nil
}

// listedAtOnce bounds how much is listed at once.
const listedAtOnce = 1000

// PutBefore implements hangar.Files.
func (b *Bucket) PutBefore(ctx context.Context, org techlog.ID, at time.Time, after [32]byte) ([][32]byte, error) {
	wanted := minio.ListObjectsOptions{Prefix: b.of(org)}
	if after != [32]byte{} {
		wanted.StartAfter = b.object(org, after)
	}
	var old [][32]byte
	for o := range b.client.ListObjectsIter(ctx, b.name, wanted) {
		if o.Err != nil {
			return nil, translate(o.Err)
		}
		raw, foreign := hex.DecodeString(path.Base(o.Key))
		if foreign != nil || len(raw) != 32 || !o.LastModified.Before(at) {
			continue
		}
		if old = append(old, [32]byte(raw)); len(old) == listedAtOnce {
			break
		}
	}
	return old, nil
}

// Drop implements hangar.Files. S3 has no removal that depends on an object's age: what is put again between the look at it
// and its removal is lost. It would have to be older than the sweep takes, and be sent again at that very moment.
func (b *Bucket) Drop(ctx context.Context, org techlog.ID, digest [32]byte, before time.Time) error {
	name := b.object(org, digest)
	is, err := b.client.StatObject(ctx, b.name, name, minio.StatObjectOptions{})
	switch {
	case isMissing(err):
		return nil
	case err != nil:
		return translate(err)
	case !is.LastModified.Before(before):
		return nil
	}
	return translate(b.client.RemoveObject(ctx, b.name, name, minio.RemoveObjectOptions{}))
}

func isMissing(err error) bool {
	said := minio.ToErrorResponse(err)
	return err != nil && said.StatusCode == http.StatusNotFound && said.Code != minio.NoSuchBucket
}

func translate(err error) error {
	switch {
	case err == nil:
		return nil
	case isMissing(err):
		return &techlog.Error{Kind: techlog.KindNotFound, Says: "there is no such content", Cause: err}
	default:
		return &techlog.Error{Kind: techlog.KindUnavailable, Says: "the files cannot be reached", Cause: err}
	}
}
