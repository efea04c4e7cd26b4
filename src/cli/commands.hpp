#pragma once
// The commands behind the options: each prints its answer on standard output, its messages on standard error,
// and returns the exit code. Parsing is in main.cpp.

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "ledger/find.hpp"
#include "plan/bench_check.hpp"
#include "recording/source.hpp"
#include "validation/validation.hpp"
#include "work/rejudge.hpp"

namespace ebbtide::cli {

/// Exit codes, documented in docs/formats/measure.md.
enum Exit {
    ok = 0,
    bad_input = 2,
    some_refused = 3,
    fails = 10,
    conditional = 11,
    voided = 12,
    differs = 20,
    internal = 70
};

struct MeasureOptions {
    std::vector<std::string> files;
    std::optional<std::string> levels;  ///< "0.5,1/e,0.1"; absent: the usual ones
    std::string bench_file;
    bool check_standard = false;  ///< the runs are of the check standard that the bench file knows
    recording::ReadOptions read;
    bool json = false;
};
int measure(const MeasureOptions& options);

struct FitOptions {
    std::vector<std::string> files;  ///< recordings
    std::vector<std::string> pairs;  ///< files of time and voltage, one pair a line, instead
    std::string law = "auto";
    std::optional<std::string> offset;  ///< absent: free for pairs, zero for recordings
    std::optional<std::string> sigma;   ///< what the third column of pairs is: "absolute", "relative"
    std::optional<std::string> levels;
    bool robust = false;
    std::string bench_file;
    recording::ReadOptions read;
    bool json = false;
};
int fit(const FitOptions& options);

struct ListenOptions {
    std::string source;      ///< "-", a file, "tcp://HOST:PORT", "serial:DEVICE", "replay:FILE"
    std::string order;       ///< folder; empty: runs are measured and not kept
    std::string conditions;  ///< of the order, that hold today
    std::string ledger;
    std::optional<std::string> levels;
    std::string bench_file;
    recording::ReadOptions read;
    std::string who;                       ///< initials of the person at the bench
    std::string override_;                 ///< why an order is heard without a good bench check
    bool set_up = false;                   ///< the set-up list of the bench was gone through
    std::vector<plan::Mounted> reference;  ///< the first runs are reference runs, of these
    bool follow = false;                   ///< a file is read on as it grows
    bool keep_all = false;                 ///< not only the runs
    bool json = false;                     ///< one run a line
    bool events = false;                   ///< one event a line
};
int listen(const ListenOptions& options);

/// What commands that drive a bench have in common.
struct LiveBenchOptions {
    std::string simulated;      ///< file of a simulation; empty: none
    std::string pace = "fast";  ///< of the simulated bench: "fast", "real" or a number
    std::optional<std::uint64_t> seed;
    std::string who;   ///< initials
    bool ask = false;  ///< questions go to the terminal although the bench is simulated
    bool dry_run = false;
    bool json = false;
    bool events = false;  ///< one event a line
};

struct DriveOptions {
    std::string order;       ///< folder
    std::string bench_file;  ///< empty: the order's
    std::string conditions;  ///< of the order, that hold today
    std::string ledger;
    std::string override_;  ///< reason to start without a good bench check
    std::string sequence = "planned";
    bool commands = false;  ///< show every command
    LiveBenchOptions live;
};
int drive(const DriveOptions& options);

struct CheckOptions {
    std::string bench_file;
    std::string order;   ///< folder of an order that keeps a copy; empty: none
    std::string ledger;  ///< that keeps the record and its recordings; empty: none
    bool closing = false;
    std::string source;  ///< heard, as in ListenOptions; empty: driven
    bool follow = false;
    recording::ReadOptions read;
    LiveBenchOptions live;
};
int check_bench(const CheckOptions& options);

struct ServeOptions {
    std::string folder = ".";  ///< holds the orders' folders, or is one
    std::string ledger;
    std::string address = "127.0.0.1";
    std::uint16_t port = 0;     ///< 0: one that is free
    std::string simulated;      ///< file of a simulation; empty: there is no bench
    std::string pace = "real";  ///< of the simulated bench
    std::optional<std::uint64_t> seed;
    std::string who;  ///< initials
};
int serve(const ServeOptions& options);

struct InferOptions {
    std::vector<std::string> files;
    std::string bench_file;
    std::optional<double> backing_capacitance_F_m2;
    bool backed = false;
    bool contact = false, field = false;  ///< sought beside the resistivity
    std::optional<double> ring_resistance_ohm;
    std::vector<double> ring_diameters_mm;
    double u_ring = 0;  ///< relative
    recording::ReadOptions read;
    bool json = false;
};
int infer(const InferOptions& options);

struct PredictOptions {
    std::string bench_file;
    std::string levels = "50%,1/e,10%";
    std::optional<double> resistivity_ohm_sq, decay_s, meets_s;
    std::optional<double> backing_capacitance_F_m2;
    bool backed = false;
    std::string sweep;
    double contact_ohm_m = 0;
    std::string map_file;  ///< a sheet that is not the same everywhere; empty: an even one
    std::string output;    ///< .svg, .png or .pdf; empty: no picture
    bool json = false;
};
int predict(const PredictOptions& options);

struct CalibrateFixtureOptions {
    std::vector<std::string> files;
    std::string bench_file;
    bool empty = false;
    std::optional<double> reference_resistivity_ohm_sq;
    std::vector<double> check_standard;  ///< ohm, farad
    std::optional<double> plate_area_mm2;
    std::optional<double> u_reference;  ///< relative
    std::string name;                   ///< of the reference
    std::string date;                   ///< empty: today
    std::optional<double> humidity_percent, temperature_C;
    std::string into, revision;
    recording::ReadOptions read;
};
int calibrate_fixture(const CalibrateFixtureOptions& options);

struct LotOptions {
    std::vector<std::string> orders;  ///< folders, or PDF reports of ours
    std::string times;                ///< a file of bare times instead
    std::optional<double> limit_s;    ///< of bare times
    double share = 0.90, confidence = 0.95;
    double alike_within = 1.25;
    std::string output;  ///< .pdf or .html; empty: none
    bool json = false;
};

struct PlanOptions {
    double share = 0.90, confidence = 0.95;
    std::optional<double> beyond;
    double power = 0.8;
    std::optional<int> specimens;
    double good = 0.01, accept = 0.95, poor = 0.10, wrong = 0.05;
    std::string output;  ///< .pdf or .html; empty: none
    bool json = false;
};
int plan(const PlanOptions& options);

struct ConvertOptions {
    std::string file;
    std::string output;  ///< its ending names the kind of file
    recording::ReadOptions read;
};
int convert(const ConvertOptions& options);

struct SimulateOptions {
    std::string simulation;
    std::string output;     ///< file whose ending names its kind, or folder
    std::string recording;  ///< one of the simulation's; empty: all
    std::optional<std::uint64_t> seed;
};
int simulate(const SimulateOptions& options);

/// The ledger that an order is taken from, or kept in.
struct KeepOptions {
    std::string ledger;  ///< the file; empty: none is named
    bool keep = false;   ///< what was judged, and the report
    std::string who, why;
};

struct JudgeOptions {
    std::string order;         ///< folder, a PDF report of ours, or the id of an order in the ledger
    work::TermsRequest terms;  ///< other than the order's own
    KeepOptions keep;
    bool json = false;
};
int judge(const JudgeOptions& options);

struct ReportOptions {
    std::string order;   ///< folder, a PDF report of ours, or the id of an order in the ledger
    std::string output;  ///< .pdf or .html
    bool letter = false;
    work::TermsRequest terms = {};  ///< other than the order's own
    KeepOptions keep = {};
};
int report(const ReportOptions& options);

int verify(const std::string& file);

struct ValidateOptions {
    std::string output;  ///< .pdf or .html; empty: no report
    std::string ledger;  ///< that keeps the report; empty: none
    std::string who = {};
    bool letter = false;
    bool json = false;
};
int validate(const ValidateOptions& options);
/// Shows what was found, and writes the report.
int show(const validation::Validation& validation, const ValidateOptions& options);

/// Judges the example order and writes its report.
int demo(const std::string& folder, const std::string& output);

struct LedgerOptions {
    std::string ledger;    ///< the file; EBBTIDE_LEDGER where no option names it
    std::string place;     ///< what is added, copied, exported, imported, transcribed or asked for
    std::string output;    ///< of get
    std::string who, why;  ///< of add, void and transcribe
    std::string run;       ///< of void; empty: the whole order
    std::string level;     ///< of pedigree and trend
    std::string group;     ///< of pedigree
    std::optional<std::int64_t> revision;  ///< of pedigree
    ledger::Query query;                   ///< of find, but for the dates
    std::string from, to;                  ///< of find: "2026-03-14"; empty: any
    std::string initials;                  ///< of person
    bool transcribed = false;              ///< of find and void: hand-copied times
    bool checks = false;                   ///< of find: bench checks in the place of orders
    bool validations = false;              ///< of find and get: of this program on a computer
    std::string by = "year";               ///< of trend: or "month"
    bool rebuild_index = false;
    bool json = false;
};
int ledger_init(const LedgerOptions& options);
int ledger_add(const LedgerOptions& options);
int ledger_find(const LedgerOptions& options);
int ledger_pedigree(const LedgerOptions& options);
int ledger_void(const LedgerOptions& options);
int ledger_revisions(const LedgerOptions& options);
int ledger_transcribe(const LedgerOptions& options);
int ledger_trend(const LedgerOptions& options);
int ledger_materials(const LedgerOptions& options);
int ledger_person(const LedgerOptions& options);
int ledger_get(const LedgerOptions& options);
int ledger_check(const LedgerOptions& options);
int ledger_backup(const LedgerOptions& options);
int ledger_restore(const LedgerOptions& options);
int ledger_export(const LedgerOptions& options);
int ledger_import(const LedgerOptions& options);

/// Lists the shipped methods and specifications; with a name, prints that one's file.
int methods(const std::string& name);

}  // namespace ebbtide::cli
