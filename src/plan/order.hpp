#pragma once
// One customer request: items, a test method, a specification, a plan.

#include <compare>
#include <optional>
#include <string>
#include <vector>

#include "basis/instant.hpp"

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
    /// "W1 front dry + 2".
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
};

struct PlannedRecording {
    std::string file;  ///< relative to the order's folder
    std::vector<PlannedRun> runs;
    std::string channel_specimen;  ///< empty: by the bench file or by heading
    std::string channel_electrode;
    std::string channel_marker;
    std::string channel_time;
    std::optional<double> sample_interval_s;
    int line = 0;  ///< of the order file, for messages
};

/// How uncertainty enters the statement of conformity.
struct DecisionRule {
    enum class Kind { simple } kind = Kind::simple;
    std::string agreed;  ///< who agreed to it and when
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
    std::optional<Date> received;
    std::optional<Date> sampled;
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
