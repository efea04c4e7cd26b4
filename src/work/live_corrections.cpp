// What a person says of the runs of an order that is heard: of the next one, and of the last.

#include <fmt/format.h>

#include "work/live_lines.hpp"
#include "work/live_order.hpp"
#include "work/toml_text.hpp"

namespace ebbtide::work {
namespace {

Error nothing_kept() {
    return {Fault::bad_input, "no run was recorded yet in this session", "", "Wait for one"};
}

std::optional<Error> incomplete(const Correction& correction) {
    if (correction.why.empty())
        return Error{Fault::bad_input, "a run is corrected for a cause", "", "Say what went wrong"};
    if (correction.who.empty())
        return Error{Fault::bad_input, "a correction names who made it", "", "Give your initials: --who"};
    return {};
}

/// What every correction begins with; a set-aside says why in a key of its own.
std::string correction_head(const std::string& file, const Correction& correction, bool says_why) {
    return fmt::format("[[correction]]\nfile = {}\nat = {}\nby = {}\n{}", toml_text(file),
                       iso_text(correction.at), toml_text(correction.who),
                       says_why ? fmt::format("why = {}\n", toml_text(correction.why)) : "");
}

}  // namespace

Result<Done> LiveOrder::choose(std::size_t place) {
    if (place >= places_.size())
        return Error{Fault::bad_input, "the plan has no such place", "", "Choose one of the plan"};
    next_ = place;
    references_.clear();
    return Done{};
}

void LiveOrder::expect_references(const std::vector<plan::Mounted>& mounted) {
    references_.assign(mounted.begin(), mounted.end());
}

Result<RunCorrected> LiveOrder::move_last(std::size_t place, const Correction& correction) {
    if (!last_) return nothing_kept();
    if (const auto error = incomplete(correction)) return *error;
    if (place >= places_.size())
        return Error{Fault::bad_input, "the plan has no such place", "", "Choose one of the plan"};
    plan::RunKey key = places_[place].key;
    if (places_[place].either_polarity && places_[place].runs == 0)
        key.polarity = last_->run.figures.polarity;
    const judge::JudgedRun judged = judged_at(last_->run, key, record_);
    RunCorrected out{last_->file, key, "", "", correction.who, correction.why};
    const bool same = last_->place && *last_->place == place;
    if (places_[place].runs > (same ? 1 : 0))
        out.retest_cause = "Moved to this place, where a run lay before it";
    auto appended = append(fmt::format(
        "{}{}{}{}", correction_head(last_->file, correction, true), place_lines(key),
        out.retest_cause.empty() ? "" : fmt::format("retest_cause = {}\n", toml_text(out.retest_cause)),
        judged.counts ? "" : "counts = false\n"));
    if (!appended) return appended.error();
    last_->place = place;
    last_->key = key;
    last_->counts = judged.counts;
    next_ = open_place(places_, place);
    return out;
}

Result<RunCorrected> LiveOrder::set_last_aside(const Correction& correction) {
    if (!last_) return nothing_kept();
    if (const auto error = incomplete(correction)) return *error;
    const std::string& cause = correction.why;
    RunCorrected out{last_->file,    last_->place ? std::optional(last_->key) : std::nullopt,
                     cause,          "",
                     correction.who, cause};
    auto appended = append(
        fmt::format("{}set_aside = {}\n", correction_head(last_->file, correction, false), toml_text(cause)));
    if (!appended) return appended.error();
    if (!last_->place) return out;
    next_ = last_->place;
    retest_cause_ = "The run before it was set aside: " + cause;
    return out;
}

Result<Done> LiveOrder::retest_last(const std::string& cause) {
    if (!last_) return nothing_kept();
    if (!last_->place)
        return Error{Fault::bad_input, "the last run lies on no place of the plan", "", "Make it again"};
    if (cause.empty())
        return Error{Fault::bad_input, "a run is repeated for a cause", "", "Say what went wrong"};
    next_ = last_->place;
    references_.clear();
    retest_cause_ = cause;
    return Done{};
}

}  // namespace ebbtide::work
