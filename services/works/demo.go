package works

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"log/slog"
	"os"
	"path/filepath"
	"strings"
	"time"

	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
	"halfshaft/services/console"
	"halfshaft/services/vehicle"
	"halfshaft/testdata/aldermoor"
)

// DemoConfig says where the demo works and how.
type DemoConfig struct {
	Dir        string // for its data and mails; emptied of an earlier demo first
	Listen     string // gRPC address
	HTTP       string // address of the owner pages
	Desk       string // address of the pages to sign in to; empty, or with Once: none
	Reflection bool
	Once       bool // end after the tour
	Out        io.Writer
	Logger     *slog.Logger
}

// demoMark is the file that says a directory may be emptied: a demo made it.
const demoMark = "MADE-BY-HALFSHAFT-DEMO"

// Demo loads the demo works through the ordinary import, on a fixed date, lets
// one reminder pass send its mails to a mail server of its own, shows the main
// job on the terminal, and goes on serving until ctx is done.
func Demo(ctx context.Context, c DemoConfig) (err error) {
	if err := makeDemoDir(c.Dir); err != nil {
		return err
	}
	mails, err := openMailbox(filepath.Join(c.Dir, "mails"), c.Logger)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, mails.close()) }()
	texts, err := openTextBox(filepath.Join(c.Dir, "texts"))
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, texts.close()) }()
	words := filepath.Join(c.Dir, "words")
	if err := os.CopyFS(words, aldermoor.Words()); err != nil {
		return fmt.Errorf("lay out the demo's words: %w", err)
	}
	clock := newSteppedClock(aldermoor.Today.Start(time.UTC))
	if c.Once {
		c.Desk = "" // nobody could come
	}
	process, err := Start(ctx, Config{
		Desk: DeskConfig{Listen: c.Desk},
		Data: filepath.Join(c.Dir, "data"), Listen: c.Listen, HTTP: c.HTTP, Reflection: c.Reflection,
		Works:  aldermoorWorks(c.HTTP, words),
		Mail:   MailConfig{Server: mails.address, From: "Aldermoor Works <care@aldermoor.example>", Security: "plain"},
		Text:   TextConfig{Gateway: texts.address, Secret: demoTextSecret, Allow: []string{"127.0.0.1"}},
		Passes: Never, Clock: clock.now, Logger: c.Logger,
	})
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, process.Close()) }()
	if err := makeWorkshops(Operator(ctx), process.Clients().Access); err != nil {
		return err
	}
	if err := tour(ctx, process, clock, c, mails, texts); err != nil {
		return err
	}
	dealersKey, err := showDealer(Operator(ctx), process, c)
	if err != nil {
		return err
	}
	if c.Once {
		return nil
	}
	var people []demoSignIn
	if c.Desk != "" {
		if people, err = openDemoDesk(Operator(ctx), process, clock.now); err != nil {
			return err
		}
	}
	demoDesk(c, process, people)
	demoFarewell(c, process, dealersKey)
	return process.Wait(ctx)
}

// aldermoorWorks is the invented works. Its pages are reached where they are
// served, which is not https: the mails say so in their headers.
func aldermoorWorks(address, words string) WorksConfig {
	return WorksConfig{
		Zone: "Europe/London", Name: "Aldermoor Works", Telephone: "+44 1632 960100", Mail: "care@aldermoor.example",
		PublicURL: "http://" + address, Words: words, Letters: true,
		Postal: []string{"1 Foundry Yard", "Fictionbury FB1 1AA"},
	}
}

// makeDemoDir makes an empty directory for the demo. One that holds anything
// but an earlier demo is left alone.
func makeDemoDir(dir string) error {
	entries, err := os.ReadDir(dir)
	switch {
	case errors.Is(err, fs.ErrNotExist) || err == nil && len(entries) == 0:
	case err != nil:
		return fmt.Errorf("look at the demo's directory: %w", err)
	default:
		if _, err := os.Stat(filepath.Join(dir, demoMark)); err != nil {
			return fmt.Errorf("%s holds something that no demo made: name another directory with --out", dir)
		}
		if answers(SocketPath(filepath.Join(dir, "data"))) {
			return fmt.Errorf("a demo is running in %s: stop it, or name another directory with --out", dir)
		}
		if err := os.RemoveAll(dir); err != nil {
			return fmt.Errorf("remove the earlier demo: %w", err)
		}
	}
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return fmt.Errorf("make the demo's directory: %w", err)
	}
	return os.WriteFile(filepath.Join(dir, demoMark), []byte("halfshaft demo empties this directory when it starts.\n"), 0o600)
}

// tour loads the works' files and shows the main job.
func tour(ctx context.Context, p *Process, clock *steppedClock, c DemoConfig, mails *mailbox, texts *textBox) error {
	ctx = Operator(ctx)
	clients := p.Clients()
	files := filepath.Join(c.Dir, "files")
	if err := os.CopyFS(files, aldermoor.Files); err != nil {
		return fmt.Errorf("lay out the demo's files: %w", err)
	}
	fmt.Fprintf(c.Out, "Aldermoor Works on %s: an invented works; every value is a sample, to be signed by the works' engineer.\n\n", aldermoor.Today.Long())
	begin := time.Now()
	faultless, err := Import(ctx, clients, aldermoor.Today, []string{files}, false, c.Out, io.Discard)
	if err != nil {
		return err
	}
	if !faultless {
		return errors.New("the demo's own files were refused")
	}
	fmt.Fprintf(c.Out, "Loaded from %s in %.1f s.\n", files, time.Since(begin).Seconds())

	if err := loadCover(ctx, clients); err != nil {
		return err
	}
	if err := loadBulletins(ctx, clients, filepath.Join(c.Dir, "bulletins")); err != nil {
		return err
	}
	if err := loadEnquiries(ctx, clients.Enquiries); err != nil {
		return err
	}
	if err := loadBooks(ctx, clients); err != nil {
		return err
	}
	k := &console.Console{
		Access: clients.Access, Owners: clients.Owners, Builds: clients.Builds, Parts: clients.Parts,
		Schedules: clients.Schedules, Reminders: clients.Reminders, Warranties: clients.Warranties, Enquiries: clients.Enquiries, Out: c.Out,
	}
	for _, stop := range aldermoor.Tour {
		fmt.Fprintf(c.Out, "\n%s\n%s\n", stop.Heading, strings.Repeat("=", len(stop.Heading)))
		fmt.Fprintf(c.Out, "$ halfshaft %s\n\n", strings.Join(stop.Command, " "))
		if err := show(ctx, k, stop.Command); err != nil && !errors.Is(err, console.ErrRefused) {
			return err
		}
	}
	return sendNotices(ctx, clients, clock, c, mails, texts)
}

// show runs one command of the tour.
func show(ctx context.Context, k *console.Console, command []string) error {
	switch verb, rest := command[0], command[1:]; verb {
	case "vehicle":
		asBuilt := len(rest) > 1 && rest[1] == "--as-built"
		return k.Vehicle(ctx, rest[0], vehicle.Date{}, asBuilt)
	case "part":
		return k.Part(ctx, rest[0], strings.Join(rest[1:], " "), vehicle.Date{})
	case "schedule":
		return k.Schedule(ctx, rest[0], vehicle.Date{}, false)
	case "dossier":
		return k.Dossier(ctx, rest[0], vehicle.Date{})
	case "find":
		return k.Find(ctx, strings.Join(rest, " "))
	default:
		return fmt.Errorf("the tour knows no command %q", verb)
	}
}

// sendNotices lets the reminder pass run every hour of the demo's day, as cron
// would: each owner is told when their own day has come. It shows one mail as
// it arrived.
func sendNotices(ctx context.Context, clients Clients, clock *steppedClock, c DemoConfig, mails *mailbox, texts *textBox) error {
	const heading = "The notices that the day's reminder passes sent"
	fmt.Fprintf(c.Out, "\n%s\n%s\n", heading, strings.Repeat("=", len(heading)))
	midnight := aldermoor.Today.Start(time.UTC)
	for hour := range 24 {
		clock.set(midnight.Add(time.Duration(hour) * time.Hour))
		report, err := clients.Reminders.RunPass(ctx, &reminderv1.RunPassRequest{})
		if err != nil {
			return err
		}
		console.WriteNotices(c.Out, report.GetNotices())
	}
	fmt.Fprintf(c.Out, "\n%d mails came out of the mail server as .eml files in %s\n", mails.count(), mails.dir)
	if n := texts.count(); n > 0 {
		fmt.Fprintf(c.Out, "%d text messages came to the gateway, in %s\n", n, texts.dir)
	}
	if err := printLetters(ctx, clients, c); err != nil {
		return err
	}
	tasks, err := clients.Reminders.ListTasks(ctx, &reminderv1.ListTasksRequest{})
	if err != nil {
		return err
	}
	for _, t := range tasks.GetTasks() {
		fmt.Fprintf(c.Out, "For the works: %s\n", t.GetText())
	}
	return showMail(c.Out, mails)
}

// printLetters writes the letters that wait into a file.
func printLetters(ctx context.Context, clients Clients, c DemoConfig) error {
	r, err := clients.Reminders.PrintLetters(ctx, &reminderv1.PrintLettersRequest{PageSize: 100})
	if err != nil || len(r.GetNotices()) == 0 {
		return err
	}
	path := filepath.Join(c.Dir, "letters.pdf")
	if err := os.WriteFile(path, r.GetPdf(), 0o600); err != nil {
		return err
	}
	_, err = fmt.Fprintf(c.Out, "%d letters wait to be printed, in %s\n", len(r.GetNotices()), path)
	return err
}

// showMail prints the text of the shortest mail.
func showMail(out io.Writer, mails *mailbox) error {
	text, name, err := mails.shortest()
	if err != nil || text == "" {
		return err
	}
	heading := "One of them, " + name
	fmt.Fprintf(out, "\n%s\n%s\n%s", heading, strings.Repeat("=", len(heading)), text)
	return nil
}

func demoFarewell(c DemoConfig, p *Process, dealersKey string) {
	fmt.Fprintf(c.Out, "\nServing until you press Ctrl-C. In another terminal:\n")
	fmt.Fprintf(c.Out, "  export HALFSHAFT_DATA=%s\n", filepath.Join(c.Dir, "data"))
	fmt.Fprintf(c.Out, "  halfshaft vehicle %s\n", aldermoor.Tour[0].Command[1])
	fmt.Fprintf(c.Out, "  halfshaft due --within 60d\n")
	fmt.Fprintf(c.Out, "and as the dealer, from anywhere that reaches it, with their key:\n")
	fmt.Fprintf(c.Out, "  export HALFSHAFT_SERVER=%s HALFSHAFT_KEY=%s\n", p.Address(), dealersKey)
	fmt.Fprintf(c.Out, "  halfshaft schedule %s\n", aldermoor.TourSerial)
	fmt.Fprintf(c.Out, "gRPC at %s", p.Address())
	if p.HTTPAddress() != nil {
		fmt.Fprintf(c.Out, ", owner pages at http://%s", p.HTTPAddress())
	}
	fmt.Fprintf(c.Out, "\nThe administrator's key, shown this once: %s\n", p.FirstSecret())
}
