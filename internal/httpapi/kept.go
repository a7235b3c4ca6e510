package httpapi

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"strconv"
	"strings"

	"tiedown/internal/hangar"
)

// kept is the answer to a write as it is kept for a replay: status, headers and body in one piece of bytes.
//
//	201
//	Etag: "1"
//	Location: /v1/bases/0190a6b4-7d5e-7c3a-8b1f-2e4d6c8a0b1c
//
//	{"id":…}
type kept struct {
	status   int
	headers  [][2]string
	body     []byte
	replayed bool
}

// shown is the result of a use case as it is answered.
type shown struct {
	version  int    // for the ETag; zero: none
	location string // of a new record; empty: none
	body     any
}

// render makes the function that turns the result of a use case into the bytes to keep. made is what it has made: the
// answer of this request, unless the store gives an earlier one instead.
func render[T any](made *[]byte, status int, show func(T) shown) hangar.Render[T] {
	return func(result T) ([]byte, error) {
		frame, err := show(result).frame(status)
		*made = frame
		return frame, err
	}
}

func (s shown) frame(status int) ([]byte, error) {
	body, err := json.Marshal(s.body)
	if err != nil {
		return nil, err
	}
	frame := make([]byte, 0, len(body)+128)
	frame = strconv.AppendInt(frame, int64(status), 10)
	frame = append(frame, '\n')
	if s.version > 0 {
		frame = append(append(append(frame, "Etag: "...), etag(s.version)...), '\n')
	}
	if s.location != "" {
		frame = append(append(append(frame, "Location: "...), s.location...), '\n')
	}
	return append(append(frame, '\n'), body...), nil
}

// replay reads the bytes that the store gave for an answer.
func replay(frame, made []byte, err error) (*kept, error) {
	if err != nil {
		return nil, err
	}
	head, body, ok := bytes.Cut(frame, []byte("\n\n"))
	if !ok {
		return nil, errors.New("the answer that was kept cannot be read")
	}
	lines := strings.Split(string(head), "\n")
	k := &kept{body: body, replayed: !bytes.Equal(frame, made)}
	if k.status, err = strconv.Atoi(lines[0]); err != nil {
		return nil, fmt.Errorf("the answer that was kept cannot be read: %w", err)
	}
	for _, line := range lines[1:] {
		name, value, _ := strings.Cut(line, ": ")
		k.headers = append(k.headers, [2]string{name, value})
	}
	return k, nil
}

func (k *kept) write(w http.ResponseWriter) error {
	h := w.Header()
	for _, line := range k.headers {
		h[line[0]] = []string{line[1]}
	}
	if k.replayed {
		h["Idempotency-Replayed"] = []string{"true"}
	}
	return writeJSON(w, k.status, k.body)
}

var jsonType = []string{"application/json"}

func writeJSON(w http.ResponseWriter, status int, body []byte) error {
	h := w.Header()
	h["Content-Type"] = jsonType
	h["Content-Length"] = []string{strconv.Itoa(len(body))}
	w.WriteHeader(status)
	_, err := w.Write(body)
	return err
}

// The answers to every write.

// VisitAddBaseResponse implements server.AddBaseResponseObject.
func (k *kept) VisitAddBaseResponse(w http.ResponseWriter) error { return k.write(w) }

// VisitChangeBaseResponse implements server.ChangeBaseResponseObject.
func (k *kept) VisitChangeBaseResponse(w http.ResponseWriter) error { return k.write(w) }

// VisitAddAircraftResponse implements server.AddAircraftResponseObject.
func (k *kept) VisitAddAircraftResponse(w http.ResponseWriter) error { return k.write(w) }

// VisitChangeAircraftResponse implements server.ChangeAircraftResponseObject.
func (k *kept) VisitChangeAircraftResponse(w http.ResponseWriter) error { return k.write(w) }

// VisitChangeConfigurationResponse implements server.ChangeConfigurationResponseObject.
func (k *kept) VisitChangeConfigurationResponse(w http.ResponseWriter) error { return k.write(w) }

// VisitFileSquawkResponse implements server.FileSquawkResponseObject.
func (k *kept) VisitFileSquawkResponse(w http.ResponseWriter) error { return k.write(w) }

// VisitAddNoteResponse implements server.AddNoteResponseObject.
func (k *kept) VisitAddNoteResponse(w http.ResponseWriter) error { return k.write(w) }

// VisitPlanFlightResponse implements server.PlanFlightResponseObject.
func (k *kept) VisitPlanFlightResponse(w http.ResponseWriter) error { return k.write(w) }

// VisitChangeFlightResponse implements server.ChangeFlightResponseObject.
func (k *kept) VisitChangeFlightResponse(w http.ResponseWriter) error { return k.write(w) }

// VisitCancelFlightResponse implements server.CancelFlightResponseObject.
func (k *kept) VisitCancelFlightResponse(w http.ResponseWriter) error { return k.write(w) }

// VisitChangeWarningSettingsResponse implements server.ChangeWarningSettingsResponseObject.
func (k *kept) VisitChangeWarningSettingsResponse(w http.ResponseWriter) error { return k.write(w) }

// VisitChangeCompanyRulesResponse implements server.ChangeCompanyRulesResponseObject.
func (k *kept) VisitChangeCompanyRulesResponse(w http.ResponseWriter) error { return k.write(w) }

// VisitKeepDeterminationResponse implements server.KeepDeterminationResponseObject.
func (k *kept) VisitKeepDeterminationResponse(w http.ResponseWriter) error { return k.write(w) }

// VisitImportMELResponse implements server.ImportMELResponseObject.
func (k *kept) VisitImportMELResponse(w http.ResponseWriter) error { return k.write(w) }

// VisitChangeMemberResponse implements server.ChangeMemberResponseObject.
func (k *kept) VisitChangeMemberResponse(w http.ResponseWriter) error { return k.write(w) }

// VisitEndMemberResponse implements server.EndMemberResponseObject.
func (k *kept) VisitEndMemberResponse(w http.ResponseWriter) error { return k.write(w) }

// VisitRevokeTokenResponse implements server.RevokeTokenResponseObject.
func (k *kept) VisitRevokeTokenResponse(w http.ResponseWriter) error { return k.write(w) }

// VisitSignSquawkResponse implements server.SignSquawkResponseObject.
func (k *kept) VisitSignSquawkResponse(w http.ResponseWriter) error { return k.write(w) }

// VisitSignInspectionResponse implements server.SignInspectionResponseObject.
func (k *kept) VisitSignInspectionResponse(w http.ResponseWriter) error { return k.write(w) }

// VisitMoveSquawkResponse implements server.MoveSquawkResponseObject.
func (k *kept) VisitMoveSquawkResponse(w http.ResponseWriter) error { return k.write(w) }

// VisitAddCertificateResponse implements server.AddCertificateResponseObject.
func (k *kept) VisitAddCertificateResponse(w http.ResponseWriter) error { return k.write(w) }

// VisitChangeCertificateResponse implements server.ChangeCertificateResponseObject.
func (k *kept) VisitChangeCertificateResponse(w http.ResponseWriter) error { return k.write(w) }

// VisitAddStandingResponse implements server.AddStandingResponseObject.
func (k *kept) VisitAddStandingResponse(w http.ResponseWriter) error { return k.write(w) }

// VisitChangeStandingResponse implements server.ChangeStandingResponseObject.
func (k *kept) VisitChangeStandingResponse(w http.ResponseWriter) error { return k.write(w) }

// VisitAddChecklistTemplateResponse implements server.AddChecklistTemplateResponseObject.
func (k *kept) VisitAddChecklistTemplateResponse(w http.ResponseWriter) error { return k.write(w) }

// VisitChangeChecklistTemplateResponse implements server.ChangeChecklistTemplateResponseObject.
func (k *kept) VisitChangeChecklistTemplateResponse(w http.ResponseWriter) error { return k.write(w) }

// VisitChangeChecklistResponse implements server.ChangeChecklistResponseObject.
func (k *kept) VisitChangeChecklistResponse(w http.ResponseWriter) error { return k.write(w) }

// VisitStartWalkaroundResponse implements server.StartWalkaroundResponseObject.
func (k *kept) VisitStartWalkaroundResponse(w http.ResponseWriter) error { return k.write(w) }

// VisitReportResultsResponse implements server.ReportResultsResponseObject.
func (k *kept) VisitReportResultsResponse(w http.ResponseWriter) error { return k.write(w) }

// VisitFileFindingResponse implements server.FileFindingResponseObject.
func (k *kept) VisitFileFindingResponse(w http.ResponseWriter) error { return k.write(w) }

// VisitEnterMetersResponse implements server.EnterMetersResponseObject.
func (k *kept) VisitEnterMetersResponse(w http.ResponseWriter) error { return k.write(w) }

// VisitAddSquawkPhotoResponse implements server.AddSquawkPhotoResponseObject.
func (k *kept) VisitAddSquawkPhotoResponse(w http.ResponseWriter) error { return k.write(w) }

// VisitAddResultPhotoResponse implements server.AddResultPhotoResponseObject.
func (k *kept) VisitAddResultPhotoResponse(w http.ResponseWriter) error { return k.write(w) }

// VisitAddSignaturePhotoResponse implements server.AddSignaturePhotoResponseObject.
func (k *kept) VisitAddSignaturePhotoResponse(w http.ResponseWriter) error { return k.write(w) }

// VisitChangeWebhookResponse implements server.ChangeWebhookResponseObject.
func (k *kept) VisitChangeWebhookResponse(w http.ResponseWriter) error { return k.write(w) }

// VisitRevokeOlderWebhookSecretsResponse implements server.RevokeOlderWebhookSecretsResponseObject.
func (k *kept) VisitRevokeOlderWebhookSecretsResponse(w http.ResponseWriter) error { return k.write(w) }

// VisitPingWebhookResponse implements server.PingWebhookResponseObject.
func (k *kept) VisitPingWebhookResponse(w http.ResponseWriter) error { return k.write(w) }

// VisitReplayDeliveriesResponse implements server.ReplayDeliveriesResponseObject.
func (k *kept) VisitReplayDeliveriesResponse(w http.ResponseWriter) error { return k.write(w) }

// VisitRevokeCalendarFeedResponse implements server.RevokeCalendarFeedResponseObject.
func (k *kept) VisitRevokeCalendarFeedResponse(w http.ResponseWriter) error { return k.write(w) }

// VisitBlockAircraftResponse implements server.BlockAircraftResponseObject.
func (k *kept) VisitBlockAircraftResponse(w http.ResponseWriter) error { return k.write(w) }

// VisitChangeBlockResponse implements server.ChangeBlockResponseObject.
func (k *kept) VisitChangeBlockResponse(w http.ResponseWriter) error { return k.write(w) }

// VisitCancelBlockResponse implements server.CancelBlockResponseObject.
func (k *kept) VisitCancelBlockResponse(w http.ResponseWriter) error { return k.write(w) }

// VisitRecordShownResponse implements server.RecordShownResponseObject.
func (k *kept) VisitRecordShownResponse(w http.ResponseWriter) error { return k.write(w) }

// VisitPlanSeriesResponse implements server.PlanSeriesResponseObject.
func (k *kept) VisitPlanSeriesResponse(w http.ResponseWriter) error { return k.write(w) }

// VisitCancelSeriesResponse implements server.CancelSeriesResponseObject.
func (k *kept) VisitCancelSeriesResponse(w http.ResponseWriter) error { return k.write(w) }

// VisitImportAirportsResponse implements server.ImportAirportsResponseObject.
func (k *kept) VisitImportAirportsResponse(w http.ResponseWriter) error { return k.write(w) }
