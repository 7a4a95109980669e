// Command halfshaft is the whole product in one program: the services, the
// import and export of a works' files, and the questions of support staff. It
// holds no logic: each subcommand is a flag set and a call.
package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"os/signal"
	"strings"
	"syscall"

	"github.com/alecthomas/kong"

	"halfshaft/services/console"
	"halfshaft/services/works"
)

// commands is the command line.
type commands struct {
	Serve    serveCommand    `cmd:"" group:"Run it" help:"Run the services."`
	Demo     demoCommand     `cmd:"" group:"Run it" help:"Run the services with the demo works loaded, and show the main job."`
	Import   importCommand   `cmd:"" group:"Run it" help:"Take in the works' spreadsheets and YAML files: all or nothing."`
	Export   exportCommand   `cmd:"" group:"Run it" help:"Write everything to files of the same formats."`
	Snapshot snapshotCommand `cmd:"" group:"Run it" help:"Take a snapshot of the store, and prove it."`
	Restore  restoreCommand  `cmd:"" group:"Run it" help:"Make the store of an empty data directory from a snapshot."`
	Certs    certsCommand    `cmd:"" group:"Run it" help:"Certificates for TLS between the works' own processes: an authority of its own."`

	Find      findCommand      `cmd:"" group:"On the telephone" help:"Find a vehicle by serial, frame-number fragment, component serial, lot or plate, or by somebody's name, address or number."`
	Vehicle   vehicleCommand   `cmd:"" group:"On the telephone" help:"What a vehicle is: as built, or as maintained on a date."`
	Dossier   dossierCommand   `cmd:"" group:"On the telephone" help:"Everything about a vehicle for the telephone, on one page."`
	Workshops workshopsCommand `cmd:"" group:"On the telephone" help:"Who can do the work on a vehicle, near a place if one is given, and how they are reached."`
	Enquiry   enquiryCommand   `cmd:"" group:"On the telephone" help:"What was asked about a vehicle and answered: record, find, and what is like it."`
	Note      noteCommands     `cmd:"" group:"On the telephone" help:"Reviewed answers to what is asked often."`

	Part           partCommand           `cmd:"" group:"Parts and settings" help:"Which part fits a vehicle, and why."`
	Fluids         fluidsCommand         `cmd:"" group:"Parts and settings" help:"Which fluid goes where on a vehicle, how much, and what it must not meet."`
	Settings       settingsCommand       `cmd:"" group:"Parts and settings" help:"What everything on a vehicle is set and tightened to."`
	Search         searchCommand         `cmd:"" group:"Parts and settings" help:"Find parts by number or words, in the whole catalogue or on one vehicle."`
	WhereUsed      whereUsedCommand      `cmd:"" group:"Parts and settings" help:"Which vehicles have, had or may have a part, a lot or a component."`
	CheckCatalogue checkCatalogueCommand `cmd:"" group:"Parts and settings" help:"What is wrong with the catalogue against the releases there are."`
	Speed          speedCommand          `cmd:"" group:"Parts and settings" help:"How fast a vehicle goes in each gear, and how right its speedometer is."`
	TyreAge        tyreAgeCommand        `cmd:"" group:"Parts and settings" help:"How old a tyre is by its age code, and what its age asks for."`

	Schedule scheduleCommand `cmd:"" group:"What is due, and the record of work" help:"What is due on a vehicle, when and why."`
	Visits   visitsCommand   `cmd:"" group:"What is due, and the record of work" help:"The work of the next two years, grouped into visits."`
	Due      dueCommand      `cmd:"" group:"What is due, and the record of work" help:"The vehicles with something to do within a time."`
	Record   recordCommand   `cmd:"" group:"What is due, and the record of work" help:"Record a reading, work done, a change of the vehicle, an event, or how a vehicle lives."`
	Readings readingsCommand `cmd:"" group:"What is due, and the record of work" help:"Readings of a vehicle, or with '-' the doubtful ones of all."`
	Settle   settleCommand   `cmd:"" group:"What is due, and the record of work" help:"Decide about a doubtful reading."`
	Jobsheet jobSheetCommand `cmd:"" group:"What is due, and the record of work" help:"The sheet for the work of a visit: make it, print it, take in what came back."`

	Measured   measuredCommand   `cmd:"" group:"Measured values and shims" help:"What was measured on a vehicle over time, where it goes, and when it meets its limit."`
	Judge      judgeCommand      `cmd:"" group:"Measured values and shims" help:"What a measured value means: within its limit or not, against last time, and what to do."`
	Shims      shimsCommand      `cmd:"" group:"Measured values and shims" help:"Which pack of shims to fit for what was measured, and why; and record it."`
	Components componentsCommand `cmd:"" group:"Measured values and shims" help:"How far each component of a vehicle has gone, here and before."`

	Cover            coverCommand            `cmd:"" group:"Warranty" help:"Whether something on a vehicle is under warranty, by what, until when and why."`
	WarrantyDocument warrantyDocumentCommand `cmd:"" group:"Warranty" help:"The warranty of a vehicle as a document for its owner."`
	WarrantyTerms    warrantyTermsCommand    `cmd:"" group:"Warranty" help:"What the works and its suppliers promise."`
	Claim            claimCommand            `cmd:"" group:"Warranty" help:"Claims: make, decide, appeal, ask back from a supplier, sum up."`
	OutOfService     outOfServiceCommand     `cmd:"" group:"Warranty" help:"Times in which a vehicle could not be used for a fault."`

	Handbook handbookCommand `cmd:"" group:"Handbook" help:"The handbook of a vehicle: what it would be now, issue it, and what was issued."`
	Book     bookCommand     `cmd:"" group:"Handbook" help:"The text that handbooks are made from: import, check, list, show."`

	Bulletin bulletinCommand `cmd:"" group:"Bulletins and campaigns" help:"Advice and campaigns for sets of vehicles: draft, preview, issue, withdraw."`
	Campaign campaignCommand `cmd:"" group:"Bulletins and campaigns" help:"Each vehicle of a campaign until it is done: list, record, report."`

	People         peopleCommand         `cmd:"" group:"People and changes of owner" help:"Who is or was what to a vehicle, and how to reach them."`
	Tie            tieCommand            `cmd:"" group:"People and changes of owner" help:"Who is what to a vehicle: owner, caretaker, payer, executor; and whether notices go to them."`
	Person         personCommand         `cmd:"" group:"People and changes of owner" help:"A person's record: show, change, export, erase."`
	Consent        consentCommand        `cmd:"" group:"People and changes of owner" help:"What a person said about being written to; or record it."`
	Transfer       transferCommand       `cmd:"" group:"People and changes of owner" help:"Changes of owner."`
	Standing       standingCommand       `cmd:"" group:"People and changes of owner" help:"What has become of a vehicle: in use, owner unknown, exported, scrapped."`
	Disclosure     disclosureCommand     `cmd:"" group:"People and changes of owner" help:"Draft of the odometer disclosure statement for a transfer, with what it rests on."`
	OdometerNotice odometerNoticeCommand `cmd:"" group:"People and changes of owner" help:"Draft of the notice on the door frame for a replaced odometer."`
	Document       documentCommand       `cmd:"" group:"People and changes of owner" help:"Write a photograph that somebody sent to a file."`
	Privacy        privacyCommand        `cmd:"" group:"People and changes of owner" help:"What is held that is personal, and what is past its time."`

	Notices    noticesCommand    `cmd:"" group:"Reminders" help:"Notices about a vehicle, or with '-' about all."`
	Notice     noticeCommand     `cmd:"" group:"Reminders" help:"Print a notice as it went out."`
	Retry      retryCommand      `cmd:"" group:"Reminders" help:"Take a parked notice up again."`
	Pass       passCommand       `cmd:"" group:"Reminders" help:"Run a reminder pass now, or tell what one would send."`
	Pending    pendingCommand    `cmd:"" group:"Reminders" help:"What comes up and what becomes of it for each person, with the reasons."`
	Preview    previewCommand    `cmd:"" group:"Reminders" help:"What somebody would be told about a vehicle on a day."`
	Letters    lettersCommand    `cmd:"" group:"Reminders" help:"Print the letters that wait, and say that they are posted."`
	Answer     answerCommand     `cmd:"" group:"Reminders" help:"Record that work is booked, put off, or said to be done."`
	Answers    answersCommand    `cmd:"" group:"Reminders" help:"What was said about a vehicle's work; or take an answer back."`
	Stop       stopCommand       `cmd:"" group:"Reminders" help:"Send somebody no more service notices about a vehicle, or send them again."`
	Cadence    cadenceCommand    `cmd:"" group:"Reminders" help:"How each class of items is reminded of; or change it."`
	Calendar   calendarCommand   `cmd:"" group:"Reminders" help:"Make the secret address of somebody's calendar of a vehicle."`
	TakeReturn takeReturnCommand `cmd:"" group:"Reminders" help:"Take in a message that came back to the works."`
	Tasks      tasksCommand      `cmd:"" group:"Reminders" help:"What the works must look into."`

	Accounts      accountsCommand      `cmd:"" group:"Who may do what, and who did" help:"Accounts of those who sign in at the desk."`
	Keys          keysCommand          `cmd:"" group:"Who may do what, and who did" aliases:"key" help:"API keys."`
	Organisations organisationsCommand `cmd:"" group:"Who may do what, and who did" help:"The dealers and workshops whose people may come in."`
	Assignments   assignmentsCommand   `cmd:"" group:"Who may do what, and who did" help:"Which dealer may see which vehicle."`
	Whoami        whoamiCommand        `cmd:"" group:"Who may do what, and who did" help:"Who the services take you for."`
	History       historyCommand       `cmd:"" group:"Who may do what, and who did" help:"Who changed what of a vehicle, a person or anything else, when and why."`
	Audit         auditCommand         `cmd:"" group:"Who may do what, and who did" help:"The audit: read it, prove it, keep it elsewhere."`

	Serial  serialCommand  `cmd:"" group:"New numbers, and this program" help:"The check character of a new vehicle's number, or why it cannot be used."`
	Version versionCommand `cmd:"" group:"New numbers, and this program" help:"Version of the program and of its time-zone data."`

	globals
}

// globals are the flags of every command.
type globals struct {
	Data   string   `help:"Data directory." default:"halfshaft-data" env:"HALFSHAFT_DATA" type:"path"`
	Server []string `help:"Ask a server at HOST:PORT or unix:PATH instead of the one over the data directory; NAME=ADDRESS for one service of a split." env:"HALFSHAFT_SERVER" placeholder:"ADDRESS"`
	Key    string   `name:"api-key" help:"API key to show to the server." env:"HALFSHAFT_KEY" placeholder:"KEY"`
	CA     string   `name:"tls-ca" help:"Certificate authority of the server's TLS certificate." env:"HALFSHAFT_CA" placeholder:"FILE"`
	JSON   bool     `help:"Print JSON instead of words."`
	Date   string   `help:"Take this date for today (YYYY-MM-DD), for trying things out." placeholder:"DATE"`
	Log    string   `help:"How much to log to standard error: debug, info, warn, error." default:"warn" enum:"debug,info,warn,error"`
}

func main() {
	// A second signal ends the program at once.
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	go func() { <-ctx.Done(); stop() }()
	os.Exit(run(ctx, os.Args[1:]))
}

func run(ctx context.Context, args []string) int {
	var line commands
	parser, err := kong.New(&line, kong.Name("halfshaft"), kong.UsageOnError(),
		kong.Description("Stands behind every vehicle a works rebuilds, by its serial."))
	if err != nil {
		fmt.Fprintln(os.Stderr, "halfshaft:", err)
		return 2
	}
	if len(args) > 0 && args[0] == "help" { // as "halfshaft help part"
		args = append(args[1:len(args):len(args)], "--help")
	}
	kctx, err := parser.Parse(args)
	if err != nil {
		parser.FatalIfErrorf(err)
	}
	kctx.BindTo(ctx, (*context.Context)(nil))
	err = kctx.Run(&line.globals)
	switch {
	case err == nil:
		return 0
	case errors.Is(err, console.ErrRefused):
		return 1
	}
	for line := range strings.SplitSeq(works.Explain(err), "\n") {
		fmt.Fprintln(os.Stderr, "halfshaft:", line)
	}
	return 1
}
