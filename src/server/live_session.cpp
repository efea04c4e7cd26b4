#include "server/live_session.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <filesystem>
#include <memory>

#include "judge/bench_standing.hpp"
#include "work/bench_check.hpp"
#include "work/bench_standing.hpp"
#include "work/documents_to_drive.hpp"
#include "work/drive.hpp"
#include "work/live_json.hpp"

namespace ebbtide::server {
namespace {

using nlohmann::json;

std::string bench_file_of(const std::string& folder, const plan::Order& order) {
    return folder + "/" + order.bench_file;
}

/// Why the order cannot be driven under these conditions.
std::optional<Error> wrong_conditions(const plan::Order& order, const std::string& conditions) {
    std::string known;
    for (const auto& one : order.conditions) {
        if (one.id == conditions) return {};
        known += (known.empty() ? "" : ", ") + one.id;
    }
    if (conditions.empty() && order.conditions.size() <= 1) return {};
    return Error{Fault::bad_input,
                 conditions.empty() ? std::string("the order has several conditions and none is named")
                                    : fmt::format("the order has no conditions '{}'", conditions),
                 "conditions", "Name those that hold today: " + known};
}

}  // namespace

LiveSession::LiveSession(LiveFeed& feed, BenchStand stand, std::function<Instant()> now)
    : feed_(feed), stand_(std::move(stand)), now_(std::move(now)) {}

LiveSession::~LiveSession() {
    abort();
    const std::lock_guard beginning(beginning_);
    if (thread_.joinable()) thread_.join();
}

Result<Done> LiveSession::idle() const {
    const std::lock_guard lock(mutex_);
    if (!running_) return Done{};
    return Error{Fault::inconsistent, fmt::format("the bench is at work on '{}'", key_), "bench",
                 "Wait until it has ended, or abort it"};
}

Result<std::shared_ptr<work::BenchAtHand>> LiveSession::open_bench(const plan::Bench& about) {
    work::BenchAtHandRequest request;
    request.simulated = stand_.simulated;
    request.pace = stand_.pace;
    request.seed = stand_.seed;
    request.asks_all = true;
    request.ask = [this](const work::Question&) { return ask(); };
    request.stop = [this] { return stop_.load(); };
    request.pause = [this] { return pause_.load(); };
    request.say = [this](const std::string& words) { take(work::Prompt{words}); };
    auto at_hand = work::bench_at_hand(request, about);
    if (!at_hand) return at_hand.error();
    return std::make_shared<work::BenchAtHand>(std::move(at_hand).value());
}

Result<LiveSession::AtTheBench> LiveSession::bring(const std::string& folder) const {
    if (auto free = idle(); !free) return free.error();
    auto documents = work::documents_to_drive(folder);
    if (!documents) return documents.error();
    auto about = work::bench_to_drive("", documents->bench);
    if (!about) return about.error();
    return AtTheBench{std::move(documents).value(), std::move(about).value()};
}

Result<Done> LiveSession::begin(const OrderStart& start) {
    const std::lock_guard beginning(beginning_);
    const auto brought = bring(start.folder);
    if (!brought) return brought.error();
    const auto& [documents, about] = *brought;
    if (const auto wrong = wrong_conditions(documents.order, start.conditions)) return *wrong;
    const auto at_hand = open_bench(about);
    if (!at_hand) return at_hand.error();

    work::DriveRequest request;
    request.order = start.folder;
    request.who = start.who;
    request.conditions = start.conditions;
    request.ledger = start.ledger;
    request.override_ = start.override_;
    request.sequence = start.sequence;
    request.seed = start.seed;
    const std::string bench_file = bench_file_of(start.folder, documents.order);
    request.began = work::session_begin(**at_hand, about, start.folder, bench_file, now_());
    if (about.check && start.override_.empty()) {
        const std::string place = std::filesystem::path(bench_file).parent_path().string();
        const auto checks = work::bench_checks_in(place, about);
        if (!checks) return checks.error();
        const std::string reason = judge::reason_not_to_start(*checks, *about.check, request.began);
        if (!reason.empty())
            return Error{Fault::inconsistent, reason, about.id,
                         "Make an opening check, or let a named person answer for it with a reason"};
    }
    if (!start.override_.empty() && start.who.empty())
        return Error{Fault::bad_input, "the override names nobody", "who", "Say who answers for it"};

    launch("order", start.key, start.who,
           [request, at_hand = *at_hand](const std::vector<work::LiveSink>& sinks) -> Result<Done> {
               const auto driven = work::drive(*at_hand->bench, request, at_hand->person, sinks);
               if (!driven) return driven.error();
               return Done{};
           });
    return Done{};
}

Result<Done> LiveSession::begin(const CheckStart& start) {
    const std::lock_guard beginning(beginning_);
    const auto brought = bring(start.folder);
    if (!brought) return brought.error();
    const auto& [documents, about] = *brought;
    if (!about.check)
        return Error{Fault::bad_input,
                     "the bench file has no table [check]: nothing says what is asked of it", about.id,
                     "docs/formats/bench.md explains the table"};
    const auto at_hand = open_bench(about);
    if (!at_hand) return at_hand.error();

    work::BenchCheckRequest request;
    request.bench_file = bench_file_of(start.folder, documents.order);
    // The record lies beside the bench file; an order that the file does not lie in keeps a copy.
    std::error_code none;
    if (!std::filesystem::equivalent(std::filesystem::path(request.bench_file).parent_path(), start.folder,
                                     none))
        request.order = start.folder;
    request.closing = start.closing;
    request.who = start.who;
    request.began = work::session_begin(**at_hand, about, start.folder, request.bench_file, now_());
    launch("check", start.key, start.who,
           [request, at_hand = *at_hand](const std::vector<work::LiveSink>& sinks) -> Result<Done> {
               const auto checked = work::check_bench(*at_hand->bench, request, at_hand->person, sinks);
               if (!checked) return checked.error();
               return Done{};
           });
    return Done{};
}

void LiveSession::launch(const char* kind, const std::string& key, const std::string& who, Work work) {
    // The one before has ended; its thread may not have.
    if (thread_.joinable()) thread_.join();
    {
        const std::lock_guard lock(mutex_);
        running_ = true;
        key_ = key;
        before_ = questions_;
        open_question_ = 0;
        answer_.reset();
        stop_ = pause_ = false;
        session_ = {{"kind", kind},
                    {"key", key},
                    {"who", who},
                    {"first_event", feed_.last() + 1},
                    {"phase", "safe"},
                    {"words", ""},
                    {"guards", json::array()},
                    {"question", nullptr},
                    {"paused", false},
                    {"run", nullptr},
                    {"places", json::array()},
                    {"may_be_live", nullptr},
                    {"checked", nullptr},
                    {"ended", nullptr}};
    }
    thread_ = std::thread([this, kind, key, work = std::move(work)] {
        const auto done = work({[this](const work::LiveEvent& event) { take(event); }});
        bool told = false;
        {
            const std::lock_guard lock(mutex_);
            told = !session_["ended"].is_null();
        }
        if (!told) {
            work::SessionEnded end;
            end.kind = std::string_view(kind) == "order" ? work::SessionBegun::Kind::order
                                                         : work::SessionBegun::Kind::check;
            end.words = done ? std::string("It ended without a word.") : done.error().text();
            take(end);
        }
        const std::lock_guard lock(mutex_);
        running_ = false;
        open_question_ = 0;
        session_["question"] = nullptr;
    });
}

void LiveSession::take(const work::LiveEvent& event) {
    if (std::holds_alternative<work::Frame>(event)) {
        feed_.publish(event);
        return;
    }
    work::LiveEvent counted = event;
    const auto count_on = [this](work::Question& question) {
        const std::lock_guard lock(mutex_);
        question.number += before_;
        return question.number;
    };
    if (auto* asked = std::get_if<work::QuestionAsked>(&counted)) {
        const std::uint64_t number = count_on(asked->question);
        const std::lock_guard lock(mutex_);
        questions_ = std::max(questions_, number);
        open_question_ = number;
        answer_.reset();
        asks_for_pause_ = asked->question.kind == work::Question::Kind::leave && pause_;
    } else if (auto* answered = std::get_if<work::QuestionAnswered>(&counted)) {
        count_on(answered->question);
    }
    fold(work::event_line(counted));
    feed_.publish(counted);
}

/// What a page that comes later has to know.
void LiveSession::fold(const json& line) {
    const std::lock_guard lock(mutex_);
    const std::string event = line.at("event");
    if (event == "phase_entered" || event == "guards_changed") {
        for (const char* key : {"phase", "words", "guards"}) session_[key] = line.at(key);
    } else if (event == "plan_changed") {
        session_["places"] = line.at("places");
    } else if (event == "run_begun") {
        session_["run"] = line.at("step").is_null() ? line.at("place") : line.at("step");
    } else if (event == "run_recorded" || event == "run_aborted" || event == "step_recorded") {
        session_["run"] = nullptr;
    } else if (event == "question_asked") {
        session_["question"] = line.at("question");
    } else if (event == "question_answered") {
        session_["question"] = nullptr;
    } else if (event == "may_be_live") {
        session_["may_be_live"] = line.at("words");
    } else if (event == "bench_checked") {
        for (const char* key : {"good", "reason", "figures", "good_until", "file"})
            session_["checked"][key] = line.at(key);
    } else if (event == "session_ended") {
        const json& checked = session_["checked"];
        const bool good =
            line.at("done").get<bool>() && (checked.is_null() || checked.at("good").get<bool>());
        json reason = line.at("words");
        if (reason.is_null() && !checked.is_null()) reason = checked.at("reason");
        session_["ended"] = {{"reason", reason.is_null() ? json("") : reason}, {"good", good}};
        session_["run"] = nullptr;
        session_["paused"] = false;
        session_["question"] = nullptr;
    }
}

work::Answer LiveSession::ask() {
    std::unique_lock lock(mutex_);
    answered_.wait(lock, [this] { return answer_ || stop_; });
    open_question_ = 0;
    if (asks_for_pause_) {
        pause_ = asks_for_pause_ = false;
        session_["paused"] = false;
    }
    return stop_ ? work::Answer::stop : *answer_;
}

Result<Done> LiveSession::answer(std::uint64_t question, work::Answer answer) {
    const std::lock_guard lock(mutex_);
    const bool asked = question > 0 && question <= questions_;
    if (question != open_question_ || answer_ || !asked)
        return Error{
            Fault::inconsistent,
            asked ? "this question has been answered, or is asked no more" : "there is no such question",
            "question", "Load the state of the bench anew"};
    answer_ = answer;
    answered_.notify_all();
    return Done{};
}

Result<Done> LiveSession::pause(bool paused) {
    {
        const std::lock_guard lock(mutex_);
        if (!running_) return Error{Fault::inconsistent, "nothing goes on at the bench", "bench", ""};
        pause_ = paused;
        session_["paused"] = paused;
        // Taken back while it holds: that is the answer to its question.
        if (!paused && asks_for_pause_ && open_question_ != 0 && !answer_) {
            answer_ = work::Answer::done;
            answered_.notify_all();
        }
    }
    feed_.publish(json{{"schema", "ebbtide.event/1"}, {"event", "pause_asked"}, {"paused", paused}});
    return Done{};
}

void LiveSession::abort() {
    {
        const std::lock_guard lock(mutex_);
        stop_ = true;
    }
    answered_.notify_all();
}

json LiveSession::state() const {
    const std::lock_guard lock(mutex_);
    return session_;
}

std::string LiveSession::works_on() const {
    const std::lock_guard lock(mutex_);
    return running_ ? key_ : "";
}

}  // namespace ebbtide::server
