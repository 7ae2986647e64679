package service

import "testing"

// A heater that was never lit may be used from today, and as well much later: the
// longer it has stood, the later the end of the range, and hardly the begin.
func TestAHeaterThatIsYetToBeUsed(t *testing.T) {
	today := NewDate(2026, 1, 20)
	var early, late [3]Date
	for i, days := range []int{1, 14, 40} {
		var u Use
		for d := range days {
			u.Add(today-Date(days-d), 0)
		}
		o := newOutlook(&u, Facts{Now: today.Start(nil)})
		early[i], late[i] = o.day(300, earlyEnd), o.day(300, lateEnd)
		if due := o.day(300, middle); early[i] == 0 || due <= early[i] || late[i] != 0 && late[i] <= due {
			t.Errorf("%d days: %v, %v, %v", days, early[i], due, late[i])
		}
	}
	if early[0]-today > 30 || early[2]-early[0] > 20 {
		t.Errorf("use may begin now: %d and %d days", early[0]-today, early[2]-today)
	}
	if late[0]-today < 60+50 || late[1] != 0 && late[1] <= late[0] || late[2] != 0 && late[2] <= late[1] {
		t.Errorf("use may begin late: %d, %d and %d days", late[0]-today, late[1]-today, late[2]-today)
	}
	var u Use
	for d := range 20 {
		u.Add(today-Date(20-d), 0)
	}
	u.Add(today-1, 9)
	o := newOutlook(&u, Facts{Now: today.Start(nil)})
	if end := o.day(300, lateEnd); end == 0 || end >= late[1] {
		t.Errorf("once it is used: %d days", end-today)
	}
}
