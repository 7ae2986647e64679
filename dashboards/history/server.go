package history

import (
	"fmt"
	"io"
	"net/http"

	influx "github.com/influxdata/influxdb-client-go/v2"
	"github.com/influxdata/influxdb-client-go/v2/api"
)

// answerLimit is how much of an answer is read, bytes: a reason is a line or
// two. Common practice, no source.
const answerLimit = 64 << 10

// connect prepares writing; nothing is sent. The client's own batching and
// retrying stay off: both give up records.
func connect(o *Options) (api.WriteAPIBlocking, func()) {
	client := &http.Client{
		Timeout:   writeLimit,
		Transport: careful{http.DefaultTransport.(*http.Transport).Clone()}, //nolint:forcetypeassert // documented
		CheckRedirect: func(*http.Request, []*http.Request) error {
			return http.ErrUseLastResponse
		},
	}
	options := influx.DefaultOptions().SetPrecision(precision).SetUseGZip(true).SetHTTPClient(client).SetApplicationName("heaterd")
	c := influx.NewClientWithOptions(o.URL, string(o.Token), options)
	return c.WriteAPIBlocking(o.Org, o.Bucket), func() { c.Close(); client.CloseIdleConnections() }
}

// careful bounds what it reads of an answer and counts no success but 204.
type careful struct{ next http.RoundTripper }

// RoundTrip sends a request.
func (c careful) RoundTrip(r *http.Request) (*http.Response, error) {
	answer, err := c.next.RoundTrip(r)
	if err != nil {
		return nil, err
	}
	if ok := answer.StatusCode/100 == 2; ok && answer.StatusCode != http.StatusNoContent {
		_ = answer.Body.Close()
		return nil, fmt.Errorf("the answer to a write is %s, not 204: is the address that of InfluxDB?", answer.Status)
	}
	answer.Body = bounded{io.LimitReader(answer.Body, answerLimit), answer.Body}
	return answer, nil
}

type bounded struct {
	io.Reader
	io.Closer
}
