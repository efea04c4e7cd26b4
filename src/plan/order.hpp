#pragma once
// One customer request: items, a test method, a specification, a plan.

#include <compare>
#include <optional>
#include <string>
#include <vector>

#include "basis/instant.hpp"
#include "plan/bench_check.hpp"
#include "plan/channel_names.hpp"
#include "plan/decision_rule.hpp"
#include "plan/level.hpp"
#include "plan/sensitivity.hpp"

namespace ebbtide::plan {

enum class Polarity { positive, negative };
[[nodiscard]] inline const char* sign_of(Polarity p) {
    return p == Polarity::positive ? "+" : "-";
}

/// The place of a run in the plan.
struct RunKey {
    std::string specimen;
    std::string face;
    std::string conditions;
    Polarity polarity = Polarity::positive;
    int replicate = 1;

    auto operator<=>(const RunKey&) const = default;
    /// "W1 front dry + 2"; what is empty is left out.
    [[nodiscard]] std::string label() const;
};

struct Party {
    std::string name;
    std::string address;
    std::string contact;
};

struct Item {
    std::string id;
    std::string description;
    std::string lot;
    std::string condition_on_receipt;
    Sensitivity sensitivity = {};  ///< the material's own; what is absent is taken from the method
    std::string supplier = {};     ///< who made or delivered it; empty when not stated
};

struct Specimen {
    std::string id;
    std::string item;
    std::string direction;  ///< machine, cross, warp, filling; empty when the method knows none
    std::string place;      ///< on the roll or sheet
    std::string state;      ///< as received, washed 5 times, aged
};

struct TestConditions {
    std::string id;
    std::optional<double> relative_humidity_percent;
    std::optional<double> temperature_C;
    std::optional<Instant> conditioned_from;
    std::optional<Instant> conditioned_to;
};

/// One run of a recording, in the order in which the runs stand in it.
struct PlannedRun {
    RunKey key;
    std::string set_aside;     ///< cause, when a person says that the run does not count
    std::string retest_cause;  ///< cause recorded before the result was known, when the run repeats another
                               ///< of the same key
    bool without_specimen = false;  ///< a reference run; what hung there stands for the specimen in its key
    /// Of one that was heard live. One that the order lists is of the empty fixture, for methods that refer
    /// V0 to it.
    std::optional<Mounted> reference = {};

    [[nodiscard]] bool of_empty_fixture() const {
        return without_specimen && reference.value_or(Mounted::nothing) == Mounted::nothing;
    }
};

struct PlannedRecording {
    std::string file;  ///< relative to the order's folder
    std::vector<PlannedRun> runs;
    ChannelNames channels;
    std::optional<double> sample_interval_s;
    int line = 0;                       ///< of the order file, for messages
    std::optional<Instant> heard = {};  ///< of a run that was heard live: when it was entered
};

/// A folder whose recordings belong to the order, one run a file, told apart by their names.
struct RecordingFolder {
    std::string folder;  ///< relative to the order's
    std::string names;   ///< "{specimen}-{polarity}-{replicate}.csv": what stands where in a file's name
    RunKey key;          ///< what the names do not say
    ChannelNames channels;
    std::optional<double> sample_interval_s;
    int line = 0;  ///< of the order file, for messages
};

/// A result that another test gave, for requirements that are not about a decay time.
struct SuppliedResult {
    std::string quantity;  ///< "shielding_factor"
    std::string specimen;  ///< empty: of the items as a whole
    double value = 0;
    double u = 0;        ///< standard uncertainty
    std::string source;  ///< who measured it and how
};

/// That this report replaces an issued one, and what changed (ISO/IEC 17025:2017, 7.8.8).
struct Amendment {
    int replaces_revision = 0;
    std::optional<Date> replaces_issued;
    std::string reason;
    std::vector<std::string> changes;  ///< in words, as the person states them
    std::string replaced_report;       ///< PDF of it, relative to the order's folder; empty: not at hand
};

struct Citation {
    std::string file;  ///< relative to the order's folder, or the id of a shipped one
    std::string edition;
};

struct Order {
    std::string id;
    std::string title;
    int revision = 1;
    Party laboratory;
    std::string laboratory_location;  ///< where the tests were done, if not at the address
    Party customer;
    Citation method;
    Citation specification;
    std::string bench_file;
    DecisionRule decision_rule;
    std::vector<Item> items;
    std::vector<Specimen> specimens;
    std::vector<TestConditions> conditions;
    std::vector<PlannedRecording> recordings;
    std::vector<RecordingFolder> folders;
    std::string live_file;  ///< runs that were heard live; relative to the order's folder; empty: none
    bool keep_all = false;  ///< whoever listens for this order keeps what stands between the runs too
    std::vector<SuppliedResult> supplied;
    std::optional<Amendment> amendment;  ///< of every revision after the first
    std::optional<Date> received;
    std::optional<Date> sampled;
    std::optional<Date> due = {};  ///< promised to the customer
    std::string sampled_by;
    std::string sampling_plan;
    Date tested_from;
    Date tested_to;
    std::optional<Date> issued;
    std::string tested_by;
    std::string authorised_by;
    std::string authorised_role;
    std::vector<std::string> deviations;  ///< additions, deviations, exclusions
    std::vector<std::string> external_providers;
    std::vector<std::string> opinions;

    [[nodiscard]] const Specimen* specimen(const std::string& wanted) const;
    [[nodiscard]] const TestConditions* condition(const std::string& wanted) const;
};

}  // namespace ebbtide::plan
