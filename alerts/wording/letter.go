package wording

import (
	"html/template"
	"slices"
	"strconv"
	"strings"

	"heaterd/alerts/alarm"
	"heaterd/alerts/fleet"
)

// section is one part of a letter.
type section struct {
	Head    string
	Lines   []string
	Ordered bool
	// Contacts are what the lines are about, where they are whom to call.
	Contacts []fleet.Contact
	Link     string
}

// Full is the complete message in English: see Language.Full.
func Full(f Facts) (subject, text string) { return english.Full(f) }

// Full is the complete message: a subject of one line, at most maxSubject
// characters, and a text. Where people are concerned the site's procedure
// comes first and the heater last.
func (l *Language) Full(f Facts) (subject, text string) {
	var b strings.Builder
	for _, s := range l.letter(&f) {
		s.write(&b)
	}
	return l.Subject(f), b.String() + l.heads.footer + "\n"
}

// Subject is the subject of the complete message.
func (l *Language) Subject(f Facts) string {
	tag, template := l.priority[f.Priority], "{title}[ ({value})][, {heater}][, {where}]"
	if tag != "" {
		tag += ": "
	}
	if f.Again != "" {
		tag = l.againTag + tag
	}
	switch {
	case f.Late:
		tag = l.lateTag
	case f.behindAir():
		tag += l.airTag
	case f.State == alarm.Latched:
		tag += l.latchedTag
	case f.over():
		tag, template = l.endedTag, "{title}[, {heater}][, {where}]"
	}
	return fit(maxSubject, func(n int) string {
		return tag + fill(template, l.values(&f, n, false)) + l.takenSubject(&f)
	})
}

func (s section) write(b *strings.Builder) {
	b.WriteString(s.Head + "\n")
	for i, line := range s.Lines {
		mark := "- "
		if s.Ordered {
			mark = strconv.Itoa(i+1) + ") "
		}
		b.WriteString(mark + line + "\n")
	}
	if s.Link != "" {
		b.WriteString(s.Link + "\n")
	}
	b.WriteString("\n")
}

// letter is the message in parts, in the order they are to be read.
func (l *Language) letter(f *Facts) []section {
	var all []section
	switch {
	case f.Kind.ConcernsPeople():
		all = l.forPeople(f)
	case f.behindAir():
		all = l.forHeaterBehindAir(f)
	default:
		all = l.forHeater(f)
	}
	all = append(all,
		section{Head: l.heads.bring, Lines: l.bring(f)},
		section{Head: l.heads.enter, Lines: l.entering(f)},
		section{Head: l.heads.checks, Lines: l.checks(f), Ordered: true},
		section{Head: l.heads.know, Lines: l.cautions(f)},
		section{Head: l.heads.evidence, Lines: cleaned(f.Evidence)},
		section{Head: l.linked(f), Link: clean(f.Link)},
	)
	return filled(all)
}

// linked says what the link is for. Of what ended the news is that it did.
func (l *Language) linked(f *Facts) string {
	if f.Answers && f.State != alarm.Returned {
		return l.heads.link
	}
	return l.heads.see
}

func filled(all []section) []section {
	var out []section
	for _, s := range all {
		if len(s.Lines) > 0 || s.Link != "" {
			out = append(out, s)
		}
	}
	return out
}

func (l *Language) forPeople(f *Facts) []section {
	return append(l.beforeHeater(f),
		section{Head: l.heads.heater, Lines: l.all(l.of(f.Kind).heater, f)},
		section{Head: l.heads.what, Lines: l.known(f)},
	)
}

func (l *Language) forHeaterBehindAir(f *Facts) []section {
	return append(l.beforeHeater(f),
		section{Head: l.heads.heater, Lines: l.known(f)},
		section{Head: l.heads.heaters, Lines: l.concerned(f)},
	)
}

// beforeHeater is what comes before any heater where the air is bad.
func (l *Language) beforeHeater(f *Facts) []section {
	return []section{
		{Head: l.heads.procedure, Lines: l.procedure(f)},
		{Head: l.heads.people, Lines: l.all(l.people, f)},
		{Head: l.heads.call, Lines: l.call(f), Contacts: reached(f.Contacts)},
	}
}

func (l *Language) forHeater(f *Facts) []section {
	return []section{
		{Head: l.heads.what, Lines: l.known(f)},
		{Head: l.heads.heaters, Lines: l.concerned(f)},
		{Head: strip(l.heads.procedure), Lines: isolatedAll(lines(f.Procedure))},
		{Head: strip(l.heads.call), Lines: contacts(f.Contacts), Contacts: reached(f.Contacts)},
	}
}

// strip takes the number off a heading.
func strip(head string) string {
	_, after, found := strings.Cut(head, ". ")
	if !found {
		return head
	}
	return after
}

// known is the line, why it comes again, who has acknowledged, and who was told
// before: the reader, and others.
func (l *Language) known(f *Facts) []string {
	all := []string{l.Whole(*f, true), l.toldAgain(f), l.taken(f), l.reminded(f), l.earlier(f)}
	return slices.DeleteFunc(all, func(s string) bool { return s == "" })
}

func (l *Language) toldAgain(f *Facts) string {
	if f.Again == "" {
		return ""
	}
	return fill(l.again, func(string) string { return clean(f.Again) })
}

func (l *Language) procedure(f *Facts) []string {
	if own := isolatedAll(lines(f.Procedure)); len(own) > 0 {
		return own
	}
	return []string{l.noProc}
}

func (l *Language) call(f *Facts) []string {
	if cs := contacts(f.Contacts); len(cs) > 0 {
		return cs
	}
	return []string{l.noCall}
}

func contacts(cs []fleet.Contact) []string {
	var out []string
	for _, c := range reached(cs) {
		out = append(out, strings.Join(isolatedAll(cleaned([]string{c.Name, c.Phone, c.Email})), ", "))
	}
	return out
}

// reached are the contacts of whom anything is known, cleaned.
func reached(cs []fleet.Contact) []fleet.Contact {
	var out []fleet.Contact
	for _, c := range cs {
		c = fleet.Contact{Name: clean(c.Name), Phone: clean(c.Phone), Email: clean(c.Email)}
		if c != (fleet.Contact{}) {
			out = append(out, c)
		}
	}
	return out
}

// Dial is a telephone number as a link wants it (RFC 3966): no blanks.
func Dial(number string) string { return strings.Join(strings.Fields(number), "") }

func (l *Language) all(templates []string, f *Facts) []string {
	var out []string
	for _, t := range templates {
		out = append(out, fill(t, l.values(f, wholeNames, false)))
	}
	return out
}

func (l *Language) checks(f *Facts) []string {
	if len(f.Checks) > 0 {
		return begun(cleaned(f.Checks))
	}
	return l.of(f.Kind).checks
}

func (l *Language) cautions(f *Facts) []string {
	var out []string
	if f.Kind.ConcernsPeople() || f.behindAir() {
		out = append(out, l.know...)
	}
	out = append(out, l.of(f.Kind).know...)
	return append(out, cleaned(f.Cautions)...)
}

// bring says what to take along, while there is something to go for.
func (l *Language) bring(f *Facts) []string {
	if f.over() || f.behindAir() {
		return nil
	}
	return l.of(f.Kind).bring
}

// entering says of what is no alarm about air that the air comes before the heater.
func (l *Language) entering(f *Facts) []string {
	if f.Kind.ConcernsPeople() || f.behindAir() || f.Heater == "" && len(f.Seen)+len(f.Heaters) == 0 {
		return nil
	}
	return l.enter
}

func cleaned(all []string) []string {
	var out []string
	for _, s := range all {
		if s = clean(s); s != "" {
			out = append(out, s)
		}
	}
	return out
}

// page is the HTML form; html/template escapes whatever names bring along
// and drops links that are none. A link is shown as what it does, for its
// address is long.
var page = template.Must(template.New("letter").Funcs(template.FuncMap{"dial": Dial, "isolated": Isolated}).Parse(`<!DOCTYPE html>
<html lang="{{.Tag}}"><head><meta charset="utf-8"><title>{{.Subject}}</title></head><body>
<h1>{{.Subject}}</h1>
{{range .Sections}}{{if .Link}}<h2><a href="{{.Link}}">{{.Head}}</a></h2>
{{else}}<h2>{{.Head}}</h2>
{{if .Contacts}}<ul>{{range .Contacts}}{{$name := .Name}}{{$phone := .Phone}}<li>{{isolated .Name}}{{with .Phone}}{{if $name}}, {{end}}<a href="tel:{{dial .}}">{{.}}</a>{{end -}}
{{with .Email}}{{if or $name $phone}}, {{end}}<a href="mailto:{{.}}">{{.}}</a>{{end}}</li>{{end}}</ul>
{{else if .Ordered}}<ol>{{range .Lines}}<li>{{.}}</li>{{end}}</ol>
{{else}}<ul>{{range .Lines}}<li>{{.}}</li>{{end}}</ul>
{{end}}{{end}}{{end}}<p>{{.Footer}}</p>
</body></html>
`))

// HTML is the complete message as a page.
func (l *Language) HTML(f Facts) string {
	var b strings.Builder
	err := page.Execute(&b, map[string]any{
		"Tag": l.Tag, "Subject": l.Subject(f), "Sections": l.letter(&f), "Footer": l.heads.footer,
	})
	if err != nil {
		panic("BUG: " + err.Error())
	}
	return b.String()
}
