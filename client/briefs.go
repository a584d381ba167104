package client

import (
	"context"
	"net/http"

	"parcours.example/api/contract"
)

// BriefForm is a form of a brief as text.
type BriefForm string

// The forms of briefs as text: a table is the itinerary alone.
const (
	PlainText BriefForm = textMediaType
	Markdown  BriefForm = markdownMediaType
	Table     BriefForm = csvMediaType
)

// Brief returns the write-up of a course with every fact in it.
func (c *Client) Brief(ctx context.Context, request *contract.BriefRequest) (*contract.Brief, error) {
	return post[contract.Brief](ctx, c, "/v1/briefs", request, request.Course, nil)
}

// BriefText returns the write-up of a course as text to post.
func (c *Client) BriefText(ctx context.Context, form BriefForm, request *contract.BriefRequest) (string, error) {
	k, err := jsonCall("/v1/briefs", request, nil, string(form))
	if err != nil {
		return "", err
	}
	body, err := c.bytes(ctx, k, courseIn(request.Course))
	return string(body), err
}

// BriefOfFile returns the write-up of a route file as text to post, in one call. Options may be
// nil.
func (c *Client) BriefOfFile(ctx context.Context, form BriefForm, f File, options *contract.BriefParams) (string, error) {
	body, err := f.payload()
	if err != nil {
		return "", err
	}
	text, err := c.do(ctx, call{method: http.MethodPost, path: "/v1/briefs", query: queryOf(options), accept: string(form), body: body})
	return string(text), err
}
