package browser_test

import "testing"

func TestEmptyPage(t *testing.T) {
	b := newTab(t)
	b.Open("/")
	b.WaitVisible("label[for=file]")
	b.CheckAccessible("empty")
}

// TestWeight holds what a visitor loads before a course is opened under 150 KB, on the
// wire and unpacked alike.
func TestWeight(t *testing.T) {
	const limit = 150_000
	b := newTab(t)
	b.Open("/")
	b.WaitVisible("label[for=file]")
	b.WaitQuiet()
	var received, decoded int64
	for _, r := range b.Requests() {
		received, decoded = received+r.Received, decoded+r.Decoded
	}
	t.Logf("%d requests, %d bytes received, %d unpacked", len(b.Requests()), received, decoded)
	if received == 0 || decoded == 0 || received > limit || decoded > limit {
		t.Errorf("the page weighs %d bytes, %d unpacked; allowed are %d", received, decoded, limit)
	}
}
