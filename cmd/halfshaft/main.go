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
	Serve  serveCommand  `cmd:"" help:"Run the services."`
	Demo   demoCommand   `cmd:"" help:"Run the services with the demo works loaded, and show the main job."`
	Import importCommand `cmd:"" help:"Take in the works' spreadsheets and YAML files: all or nothing."`
	Export exportCommand `cmd:"" help:"Write everything to files of the same formats."`

	Serial serialCommand `cmd:"" help:"The check character of a new vehicle's number, or why it cannot be used."`

	Snapshot snapshotCommand `cmd:"" help:"Take a snapshot of the store, and prove it."`
	Restore  restoreCommand  `cmd:"" help:"Make the store of an empty data directory from a snapshot."`

	Find           findCommand           `cmd:"" help:"Find a vehicle by serial, frame-number fragment, component serial, lot or plate, or by somebody's name, address or number."`
	Vehicle        vehicleCommand        `cmd:"" help:"What a vehicle is: as built, or as maintained on a date."`
	Part           partCommand           `cmd:"" help:"Which part fits a vehicle, and why."`
	Fluids         fluidsCommand         `cmd:"" help:"Which fluid goes where on a vehicle, how much, and what it must not meet."`
	Settings       settingsCommand       `cmd:"" help:"What everything on a vehicle is set and tightened to."`
	Search         searchCommand         `cmd:"" help:"Find parts by number or words, in the whole catalogue or on one vehicle."`
	WhereUsed      whereUsedCommand      `cmd:"" help:"Which vehicles have, had or may have a part, a lot or a component."`
	CheckCatalogue checkCatalogueCommand `cmd:"" help:"What is wrong with the catalogue against the releases there are."`
	Speed          speedCommand          `cmd:"" help:"How fast a vehicle goes in each gear, and how right its speedometer is."`
	TyreAge        tyreAgeCommand        `cmd:"" help:"How old a tyre is by its age code, and what its age asks for."`
	Schedule       scheduleCommand       `cmd:"" help:"What is due on a vehicle, when and why."`
	Visits         visitsCommand         `cmd:"" help:"The work of the next two years, grouped into visits."`
	Due            dueCommand            `cmd:"" help:"The vehicles with something to do within a time."`
	Record         recordCommand         `cmd:"" help:"Record a reading, work done, a change of the vehicle, an event, or how a vehicle lives."`
	Readings       readingsCommand       `cmd:"" help:"Readings of a vehicle, or with '-' the doubtful ones of all."`
	Settle         settleCommand         `cmd:"" help:"Decide about a doubtful reading."`

	Dossier dossierCommand `cmd:"" help:"Everything about a vehicle for the telephone, on one page."`
	Enquiry enquiryCommand `cmd:"" help:"What was asked about a vehicle and answered: record, find, and what is like it."`
	Note    noteCommands   `cmd:"" help:"Reviewed answers to what is asked often."`

	Cover            coverCommand            `cmd:"" help:"Whether something on a vehicle is under warranty, by what, until when and why."`
	WarrantyDocument warrantyDocumentCommand `cmd:"" help:"The warranty of a vehicle as a document for its owner."`
	WarrantyTerms    warrantyTermsCommand    `cmd:"" help:"What the works and its suppliers promise."`
	Claim            claimCommand            `cmd:"" help:"Claims: make, decide, appeal, ask back from a supplier, sum up."`
	OutOfService     outOfServiceCommand     `cmd:"" help:"Times in which a vehicle could not be used for a fault."`

	Measured measuredCommand `cmd:"" help:"What was measured on a vehicle over time, where it goes, and when it meets its limit."`
	Judge    judgeCommand    `cmd:"" help:"What a measured value means: within its limit or not, against last time, and what to do."`
	Shims    shimsCommand    `cmd:"" help:"Which pack of shims to fit for what was measured, and why; and record it."`

	Components componentsCommand `cmd:"" help:"How far each component of a vehicle has gone, here and before."`

	Bulletin bulletinCommand `cmd:"" help:"Advice and campaigns for sets of vehicles: draft, preview, issue, withdraw."`
	Campaign campaignCommand `cmd:"" help:"Each vehicle of a campaign until it is done: list, record, report."`

	People   peopleCommand   `cmd:"" help:"Who is or was what to a vehicle, and how to reach them."`
	Tie      tieCommand      `cmd:"" help:"Who is what to a vehicle: owner, caretaker, payer, executor; and whether notices go to them."`
	Person   personCommand   `cmd:"" help:"A person's record: show, change, export, erase."`
	Consent  consentCommand  `cmd:"" help:"What a person said about being written to; or record it."`
	Transfer transferCommand `cmd:"" help:"Changes of owner."`

	Disclosure     disclosureCommand     `cmd:"" help:"Draft of the odometer disclosure statement for a transfer, with what it rests on."`
	OdometerNotice odometerNoticeCommand `cmd:"" help:"Draft of the notice on the door frame for a replaced odometer."`

	Standing standingCommand `cmd:"" help:"What has become of a vehicle: in use, owner unknown, exported, scrapped."`
	Document documentCommand `cmd:"" help:"Write a photograph that somebody sent to a file."`

	Privacy privacyCommand `cmd:"" help:"What is held that is personal, and what is past its time."`

	Notices    noticesCommand    `cmd:"" help:"Notices about a vehicle, or with '-' about all."`
	Notice     noticeCommand     `cmd:"" help:"Print a notice as it went out."`
	Retry      retryCommand      `cmd:"" help:"Take a parked notice up again."`
	Pass       passCommand       `cmd:"" help:"Run a reminder pass now, or tell what one would send."`
	Pending    pendingCommand    `cmd:"" help:"What comes up and what becomes of it for each person, with the reasons."`
	Preview    previewCommand    `cmd:"" help:"What somebody would be told about a vehicle on a day."`
	Letters    lettersCommand    `cmd:"" help:"Print the letters that wait, and say that they are posted."`
	Answer     answerCommand     `cmd:"" help:"Record that work is booked, put off, or said to be done."`
	Answers    answersCommand    `cmd:"" help:"What was said about a vehicle's work; or take an answer back."`
	Stop       stopCommand       `cmd:"" help:"Send somebody no more service notices about a vehicle, or send them again."`
	Cadence    cadenceCommand    `cmd:"" help:"How each class of items is reminded of; or change it."`
	Calendar   calendarCommand   `cmd:"" help:"Make the secret address of somebody's calendar of a vehicle."`
	TakeReturn takeReturnCommand `cmd:"" help:"Take in a message that came back to the works."`
	Tasks      tasksCommand      `cmd:"" help:"What the works must look into."`

	Certs certsCommand `cmd:"" help:"Certificates for TLS between the works' own processes: an authority of its own."`

	History historyCommand `cmd:"" help:"Who changed what of a vehicle, a person or anything else, when and why."`
	Audit   auditCommand   `cmd:"" help:"The audit: read it, prove it, keep it elsewhere."`

	Accounts accountsCommand `cmd:"" help:"Accounts of those who sign in at the desk."`

	Keys          keysCommand          `cmd:"" aliases:"key" help:"API keys."`
	Organisations organisationsCommand `cmd:"" help:"The dealers and workshops whose people may come in."`
	Assignments   assignmentsCommand   `cmd:"" help:"Which dealer may see which vehicle."`

	Whoami  whoamiCommand  `cmd:"" help:"Who the services take you for."`
	Version versionCommand `cmd:"" help:"Version of the program and of its time-zone data."`

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
