package main

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
)

// client asks the server.
type client struct{ addr, token string }

// post sends JSON, and gives the identifier of what was made.
func (c client) post(ctx context.Context, path string, body any) (string, error) {
	raw, err := json.Marshal(body)
	if err != nil {
		return "", err
	}
	request, err := http.NewRequestWithContext(ctx, http.MethodPost, "http://"+c.addr+path, bytes.NewReader(raw))
	if err != nil {
		return "", err
	}
	request.Header.Set("Authorization", "Bearer "+c.token)
	request.Header.Set("Content-Type", "application/json")
	response, err := http.DefaultClient.Do(request)
	if err != nil {
		return "", err
	}
	defer response.Body.Close() //nolint:errcheck // read to the end
	got, err := io.ReadAll(response.Body)
	if err != nil {
		return "", err
	}
	var made struct {
		ID     string `json:"id"`
		Squawk struct {
			ID string `json:"id"`
		} `json:"squawk"`
	}
	if response.StatusCode != http.StatusCreated {
		return "", fmt.Errorf("POST %s: %s: %s", path, response.Status, got)
	}
	err = json.Unmarshal(got, &made)
	return made.ID + made.Squawk.ID, err
}
