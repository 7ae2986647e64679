package service

import "testing"

func TestBookKeepsTheWordThatErrsToSafety(t *testing.T) {
	p := Default()
	i := p.Index("service-500h")
	var b Book
	b.Done(p, 9, known(120), "service-500h")
	b.Done(p, 9, known(100), "service-500h")
	b.Done(p, 9, known(110), "service-500h")
	if b.Last[i].Hours != 100 {
		t.Errorf("of two entries at one instant the one with fewer hours falls due sooner: kept %v h", b.Last[i].Hours)
	}
	b.Done(p, 8, known(90), "service-500h")
	if b.Last[i].At != 9 {
		t.Errorf("an older entry replaced a newer one: %v", b.Last[i].At)
	}
}

func TestBookBeginsAtTheEarliestSight(t *testing.T) {
	var b Book
	b.Begin(50, 400)
	b.Begin(20, 390)
	b.Begin(70, 410)
	if b.Since != 20 || b.StartHours != 390 {
		t.Errorf("first seen at %d with %v h, want 20 with 390", b.Since, b.StartHours)
	}
}
