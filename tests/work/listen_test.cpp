// Listening: the runs of a file, whatever line they come by, as soon as they are over; each in its place of
// an order, on the disk before it is said to be.

#include "work/listen.hpp"

#include <fmt/format.h>
#include <gtest/gtest.h>
#include <unistd.h>

#include <thread>

#include "basis/sha256.hpp"
#include "ledger/migrations.hpp"
#include "ledger/segments.hpp"
#include "record/json.hpp"
#include "support/example_order.hpp"
#include "support/scripted_stream.hpp"
#include "transport/descriptor.hpp"
#include "transport/pipe_pair.hpp"
#include "transport/tcp.hpp"
#include "work/convert.hpp"
#include "work/live_json.hpp"

namespace {

using namespace ebbtide;
using namespace ebbtide::testing_support;
using work::LiveEvent;

const std::string example = EBBTIDE_SOURCE_DIR "/examples/halyard-cloth";
const std::string recording_w1 = example + "/recordings/W1.csv";

work::MeasureRequest plain_request() {
    return {work::usual_rules(), {}};
}

/// What a listener was told.
struct Told {
    std::vector<LiveEvent> events;
    work::Heard heard;

    template <class Event>
    [[nodiscard]] std::vector<Event> all() const {
        std::vector<Event> out;
        for (const LiveEvent& event : events)
            if (const auto* one = std::get_if<Event>(&event)) out.push_back(*one);
        return out;
    }
    [[nodiscard]] std::vector<std::string> ids() const {
        std::vector<std::string> out;
        for (const auto& run : all<work::RunRecorded>()) out.push_back(run.run.run_id);
        return out;
    }
};

Told listened(work::LiveSource source, work::LiveOrder* order = nullptr,
              work::MeasureRequest measure = plain_request()) {
    Told told;
    work::ListenRequest request;
    request.source = "test";
    request.measure = std::move(measure);
    request.now = [] { return Instant{1'790'000'000'000'000'000}; };
    auto heard =
        work::listen(source, request, order, {[&](const LiveEvent& event) { told.events.push_back(event); }});
    EXPECT_TRUE(heard) << (heard ? "" : heard.error().text());
    if (heard) told.heard = *heard;
    return told;
}

Told listened_to_stream(std::unique_ptr<transport::ByteStream> stream) {
    auto samples = recording::open_stream(std::move(stream), {});
    EXPECT_TRUE(samples) << (samples ? "" : samples.error().text());
    return samples ? listened({std::move(samples).value(), ""}) : Told{};
}

Told listened_to(const std::string& words, bool follow = false, work::Attend attend = {}) {
    auto source = work::open_live_source({words, follow, {}, std::move(attend)});
    EXPECT_TRUE(source) << (source ? "" : source.error().text());
    return source ? listened(std::move(source).value()) : Told{};
}

std::vector<std::string> ids_in_file(const std::string& path) {
    auto source = recording::open(path, {});
    auto file = work::measure(**source, plain_request());
    EXPECT_TRUE(file);
    return file->recording.runs;
}

class Listening : public ::testing::Test {
  protected:
    /// The example, and the same recording as a container.
    std::vector<std::string> recordings() {
        const std::string container = folder_ / "w1.ebbrec";
        if (!std::filesystem::exists(container)) {
            auto source = recording::open(recording_w1, {});
            const auto converted = work::convert_to_file(**source, container);
            EXPECT_TRUE(converted) << (converted ? "" : converted.error().text());
        }
        return {recording_w1, container};
    }
    TemporaryFolder folder_;
};

}  // namespace

TEST_F(Listening, ToAPipeCutsTheRunsOfTheFile) {
    for (const std::string& file : recordings()) {
        const std::string bytes = bytes_of(file);
        int ends[2];
        ASSERT_EQ(::pipe(ends), 0);
        std::thread sender([&] {
            const transport::Descriptor into(ends[1]);
            for (std::size_t at = 0; at < bytes.size();) {
                const ssize_t wrote =
                    ::write(into.get(), bytes.data() + at, std::min<std::size_t>(999, bytes.size() - at));
                if (wrote <= 0) return;
                at += static_cast<std::size_t>(wrote);
            }
        });
        const Told told = listened_to_stream(
            std::make_unique<transport::DescriptorLink>(transport::Descriptor(ends[0]), "pipe", ""));
        sender.join();
        EXPECT_EQ(told.ids(), ids_in_file(file)) << file;
        EXPECT_EQ(told.ids().size(), 2u);
        EXPECT_EQ(told.all<work::SourceEnded>().at(0).sha256, sha256_hex(bytes));
    }
}

TEST_F(Listening, ToTcpCutsTheRunsOfTheFile) {
    for (const std::string& file : recordings()) {
        auto listener = transport::TcpListener::on_loopback(0);
        ASSERT_TRUE(listener);
        std::thread sender([&] {
            auto link = listener->accept(10);
            ASSERT_TRUE(link);
            EXPECT_TRUE((*link)->write(bytes_of(file), 10));
        });
        const Told told = listened_to(fmt::format("tcp://127.0.0.1:{}", listener->port()));
        sender.join();
        EXPECT_EQ(told.ids(), ids_in_file(file)) << file;
        EXPECT_FALSE(told.heard.broken);
    }
}

TEST_F(Listening, ToASerialLineCutsTheRunsOfTheFile) {
    for (const std::string& file : recordings()) {
        transport::PseudoTerminal logger;
        std::thread sender([&] {
            const std::string bytes = bytes_of(file);
            // The line is opened raw before it brings the first byte, or the system would change some.
            EXPECT_TRUE(logger.wait_until([&] { return logger.is_raw(); }));
            logger.send(bytes);
            EXPECT_TRUE(logger.wait_until([&] { return logger.all_read(); }));
            logger.unplug();
        });
        const Told told = listened_to("serial:" + logger.device() + "?baud=115200");
        sender.join();
        EXPECT_EQ(told.ids(), ids_in_file(file)) << file;
        // A plug that was pulled is said; what came before it is kept.
        ASSERT_TRUE(told.heard.broken);
        EXPECT_NE(told.heard.broken->text().find("the link is lost"), std::string::npos);
        EXPECT_NE(told.all<work::SourceOpened>().at(0).ceiling.find("11520 bytes a second"),
                  std::string::npos);
    }
}

TEST_F(Listening, ToAGrowingFileCutsTheRunsOfTheFile) {
    const std::string bytes = bytes_of(recording_w1), path = folder_ / "log.csv";
    write_bytes(path, bytes.substr(0, 5000));
    std::thread logger([&] {
        std::ofstream file(path, std::ios::binary | std::ios::app);
        for (std::size_t at = 5000; at < bytes.size(); at += 20'000) {
            file << bytes.substr(at, 20'000) << std::flush;
            std::this_thread::sleep_for(std::chrono::milliseconds(5));
        }
        file.close();
        // The next day's file takes the name: what was written before is read to its end.
        write_bytes(folder_ / "next.csv", "");
        std::filesystem::rename(folder_ / "next.csv", path);
    });
    const Told told = listened_to(path, true);
    logger.join();
    EXPECT_EQ(told.ids(), ids_in_file(recording_w1));
    ASSERT_TRUE(told.heard.broken);
    EXPECT_NE(told.heard.broken->text().find("another file lies under this name"), std::string::npos);
}

TEST_F(Listening, ToAReplayCutsTheRunsOfTheFile) {
    for (const std::string& file : recordings()) {
        // As fast as it comes, and a thousand times as fast as it was recorded.
        EXPECT_EQ(listened_to("replay:" + file + "?pace=0").ids(), ids_in_file(file));
        EXPECT_EQ(listened_to("replay:" + file + "?pace=1000").ids(), ids_in_file(file));
    }
}

TEST_F(Listening, ToASimulatedBenchCutsTheRunsOfItsRecording) {
    const std::string faults = EBBTIDE_SOURCE_DIR "/examples/bench-faults/";
    for (const char* recording : {"sound.csv", "sensor-silent.csv"})
        EXPECT_EQ(
            listened_to("simulated:" + faults + "simulation.toml?pace=fast&recording=" + recording).ids(),
            ids_in_file(faults + "recordings/" + recording))
            << recording;
    const auto none =
        work::open_live_source({"simulated:" + faults + "simulation.toml?recording=none.csv", false, {}, {}});
    ASSERT_FALSE(none);
    EXPECT_NE(none.error().text().find("'none.csv'"), std::string::npos) << none.error().text();
}

TEST_F(Listening, AReplayKeepsItsPace) {
    std::string text = "Time (s),Specimen (V)\n";
    for (int i = 0; i < 300; ++i) text += fmt::format("{:.3f},{}\n", 0.01 * i, i % 3);
    write_bytes(folder_ / "short.csv", text);
    const auto start = std::chrono::steady_clock::now();
    listened_to("replay:" + (folder_ / "short.csv") + "?pace=10");
    const std::chrono::duration<double> took = std::chrono::steady_clock::now() - start;
    // 2.99 s of recording; never sooner, and what is left to its own pace is slack for a busy machine.
    EXPECT_GE(took.count(), 0.28);
    EXPECT_LT(took.count(), 2.9);
}

TEST_F(Listening, FiguresAreThoseOfTheFile) {
    auto file = recording::open(recording_w1, {});
    auto request = plain_request();
    request.laws.emplace();
    request.monte_carlo = true;
    const auto measured = work::measure(**file, request);
    ASSERT_TRUE(measured);
    auto stream = std::make_unique<ScriptedStream>(bytes_of(recording_w1), [] { return std::size_t{333}; });
    auto samples = recording::open_stream(std::move(stream), {});
    const Told told = listened({std::move(samples).value(), ""}, nullptr, request);
    const auto runs = told.all<work::RunRecorded>();
    ASSERT_EQ(runs.size(), measured->runs.size());
    for (std::size_t i = 0; i < runs.size(); ++i)
        EXPECT_EQ(work::json_of(runs[i].run), work::json_of(measured->runs[i]));
}

TEST_F(Listening, TheContainerOfARunGivesTheRunAgainWhateverLineItCameBy) {
    const Told slow = listened_to_stream(
        std::make_unique<ScriptedStream>(bytes_of(recording_w1), [] { return std::size_t{100}; }));
    const Told fast = listened_to_stream(
        std::make_unique<ScriptedStream>(bytes_of(recording_w1), [] { return std::size_t{100'000}; }));
    const auto a = slow.all<work::RunRecorded>(), b = fast.all<work::RunRecorded>();
    ASSERT_EQ(a.size(), 2u);
    ASSERT_EQ(b.size(), 2u);
    for (std::size_t i = 0; i < 2; ++i) {
        EXPECT_EQ(a[i].recording, b[i].recording);
        EXPECT_EQ(a[i].recording.size(), 64u);
    }
    EXPECT_NE(a[0].recording, a[1].recording);
}

TEST_F(Listening, FiguresAreToldWhenTheFallIsOverAndAgainWhenItsTailHasCome) {
    const Told told = listened_to_stream(
        std::make_unique<ScriptedStream>(bytes_of(recording_w1), [] { return std::size_t{200}; }));
    std::size_t begun = 0, fallen = 0, recorded = 0;
    double fallen_at_s = 0, now_s = 0;
    std::vector<double> early_s;
    for (const LiveEvent& event : told.events) {
        if (const auto* frame = std::get_if<work::Frame>(&event)) now_s = frame->to_s;
        if (std::holds_alternative<work::RunBegun>(event)) ++begun;
        if (const auto* run = std::get_if<work::RunFallen>(&event)) {
            ++fallen;
            fallen_at_s = now_s;
            early_s.push_back(run->figures.levels.back().decay_s.value_or(-1));
        }
        if (const auto* run = std::get_if<work::RunRecorded>(&event)) {
            ++recorded;
            EXPECT_EQ(fallen, recorded);
            EXPECT_LT(fallen_at_s, now_s);
            // The tail tells more of the zero; the time is the same within its own uncertainty.
            const auto& level = run->run.figures.levels.back();
            ASSERT_TRUE(level.decay_s);
            EXPECT_NEAR(early_s.back(), *level.decay_s, 3 * *level.u_decay_s);
        }
    }
    EXPECT_EQ(recorded, 2u);
    EXPECT_GE(begun, 2u);
}

TEST_F(Listening, FramesAreTenASecondAndHoldEverySample) {
    const Told told = listened_to_stream(
        std::make_unique<ScriptedStream>(bytes_of(recording_w1), [] { return std::size_t{5000}; }));
    auto file = recording::open(recording_w1, {});
    recording::Block block;
    std::uint64_t samples = 0, framed = 0;
    double last_s = 0;
    while (*(*file)->next(block)) {
        samples += block.channels[0].value.size();
        last_s = block.channels[0].time_s.back();
    }
    const auto frames = told.all<work::Frame>();
    for (const work::Frame& frame : frames) {
        framed += frame.channels[0].samples;
        EXPECT_LE(frame.to_s - frame.from_s, 0.1);
        EXPECT_LE(frame.channels[0].lowest, frame.channels[0].mean);
        EXPECT_LE(frame.channels[0].mean, frame.channels[0].highest);
    }
    // The last one is still open when the source ends.
    EXPECT_LE(samples - framed, 10 * samples / frames.size());
    EXPECT_NEAR(static_cast<double>(frames.size()), last_s / 0.1, 0.02 * last_s / 0.1);
}

TEST_F(Listening, ALostLinkKeepsTheRunThatHadFallen) {
    const std::string bytes = bytes_of(recording_w1);
    const auto whole = ids_in_file(recording_w1);
    // Broken off a hundred lines before the end: the last run has fallen long ago, its tail is shorter.
    const std::string cut = bytes.substr(0, bytes.size() - 2000);
    auto stream = std::make_unique<ScriptedStream>(cut, [] { return std::size_t{777}; });
    stream->break_off();
    const Told told = listened_to_stream(std::move(stream));
    ASSERT_EQ(told.ids().size(), 2u);
    EXPECT_EQ(told.ids()[0], whole[0]);
    const auto ended = told.all<work::SourceEnded>();
    ASSERT_EQ(ended.size(), 1u);
    EXPECT_TRUE(ended[0].lost);
    EXPECT_NE(ended[0].reason.find("the link is lost"), std::string::npos);
}

TEST_F(Listening, ALossIsAFlagOfTheRunThatItFallsIn) {
    const std::string bytes = bytes_of(recording_w1);
    std::size_t hole = bytes.find('\n', bytes.size() / 4) + 1;
    const std::size_t end = bytes.find('\n', hole + 300) + 1;
    auto stream = std::make_unique<ScriptedStream>(bytes.substr(0, hole) + bytes.substr(end),
                                                   [] { return std::size_t{777}; });
    stream->lose(hole, end - hole);
    const Told told = listened_to_stream(std::move(stream));
    const auto runs = told.all<work::RunRecorded>();
    ASSERT_EQ(runs.size(), 2u);
    const auto flagged = [](const work::RunRecorded& run) {
        const auto found = std::ranges::find(run.run.flags, plan::FlagCode::samples_lost, &plan::Flag::code);
        return found == run.run.flags.end() ? std::string() : found->message;
    };
    EXPECT_NE(flagged(runs[0]).find(std::to_string(end - hole)), std::string::npos);
    EXPECT_EQ(flagged(runs[1]), "");
}

TEST_F(Listening, WordsThatNameNoSourceAreRefusedWithThoseThatDo) {
    for (const char* words : {"tcp://", "tcp://host", "tcp://:80", "tcp://host:0", "tcp://host:99999",
                              "serial:", "serial:/dev/x?speed=9600", "serial:/dev/x?baud=fast",
                              "replay:", "replay:file?pace=-1", "replay:file?pace", "simulated:"}) {
        const auto source = work::open_live_source({words, false, {}, {}});
        ASSERT_FALSE(source) << words;
        EXPECT_EQ(source.error().code, Fault::bad_input) << words;
        EXPECT_NE(source.error().remedy.find("replay:FILE"), std::string::npos) << words;
    }
}

// ---- with an order ----

namespace {

class ListeningForAnOrder : public ExampleOrder {
  protected:
    void SetUp() override {
        ExampleOrder::SetUp();
        std::string order = bytes_of(path("order.toml"));
        order.resize(order.find("# The runs of a recording"));
        const std::string bench = "bench = \"bench.toml\"\n";
        order.insert(order.find(bench) + bench.size(), "live = \"live.toml\"\n");
        write_bytes(path("order.toml"), order);
        std::filesystem::remove_all(path("recordings"));
    }
    std::unique_ptr<work::LiveOrder> opened(const std::string& ledger = "", std::int64_t second = 0) {
        auto order = work::LiveOrder::open({folder(), "dry-1", ledger, Instant{second * 1'000'000'000}});
        EXPECT_TRUE(order) << (order ? "" : order.error().text());
        return order ? std::move(order).value() : nullptr;
    }
    Told listened_to_file(const std::string& name, work::LiveOrder& order) {
        recording::ReadOptions read;
        order.name_channels(read);
        auto source = work::open_live_source(
            {"replay:" + example + "/recordings/" + name + "?pace=0", false, read, {}});
        EXPECT_TRUE(source);
        return listened(std::move(source).value(), &order, order.measure_request());
    }
    work::JudgedOrder judged() {
        auto out = work::judge_order(*work::folder_files(folder()), Instant{}, {}, {});
        EXPECT_TRUE(out) << (out ? "" : out.error().text());
        return out ? std::move(out).value() : work::JudgedOrder{};
    }
};

}  // namespace

TEST_F(ListeningForAnOrder, EachRunGoesToTheNextOpenPlaceAndIsJudgedThere) {
    auto order = opened();
    ASSERT_TRUE(order);
    Told told = listened_to_file("W1.csv", *order);
    const auto runs = told.all<work::RunRecorded>();
    ASSERT_EQ(runs.size(), 2u);
    EXPECT_EQ(runs[0].place->label(), "W1 front dry-1 + 1");
    EXPECT_EQ(runs[1].place->label(), "W1 back dry-1 + 1");
    for (const auto& run : runs) {
        EXPECT_TRUE(run.counts);
        EXPECT_EQ(sha256_hex(bytes_of(path(run.file))), run.recording);
    }
    listened_to_file("W2.csv", *order);
    order.reset();

    // The order as it was before, its recordings listed by hand, gives the same runs and figures.
    const auto live = judged();
    auto listed = work::judge_order(*work::folder_files(example), Instant{}, {}, {});
    ASSERT_TRUE(listed);
    ASSERT_GE(live.record.judgement.runs.size(), 4u);
    for (std::size_t i = 0; i < 4; ++i) {
        const judge::JudgedRun &heard = live.record.judgement.runs[i],
                               &read = listed->record.judgement.runs[i];
        EXPECT_EQ(heard.key, read.key);
        EXPECT_EQ(heard.run_id, read.run_id);
        EXPECT_EQ(record::json_of(*heard.figures), record::json_of(*read.figures));
        EXPECT_EQ(heard.counts, read.counts);
    }
}

TEST_F(ListeningForAnOrder, ARunThatIsHeardAgainIsNotKeptTwice) {
    {
        auto order = opened("", 1);
        listened_to_file("W1.csv", *order);
    }
    const std::string before = bytes_of(path("live.toml"));
    auto order = opened("", 2);
    const Told told = listened_to_file("W1.csv", *order);
    EXPECT_TRUE(told.all<work::RunRecorded>().empty());
    EXPECT_FALSE(told.all<work::Prompt>().empty());
    EXPECT_EQ(bytes_of(path("live.toml")), before);
    EXPECT_EQ(order->places()[*order->next_place()].key.label(), "W2 front dry-1 + 1");
}

TEST_F(ListeningForAnOrder, KeepsWhatStandsBetweenTheRunsWhereTheOrderSaysSo) {
    std::string text = bytes_of(path("order.toml"));
    const std::string live = "live = \"live.toml\"\n";
    text.insert(text.find(live) + live.size(), "keep_all = true\n");
    write_bytes(path("order.toml"), text);
    auto order = opened();
    ASSERT_TRUE(order);
    listened_to_file("W1.csv", *order);
    EXPECT_TRUE(std::filesystem::exists(path(order->session_file("all"))));
    EXPECT_FALSE(std::filesystem::exists(path(order->session_file("idle"))));
}

TEST_F(ListeningForAnOrder, NothingWrittenIsEverChanged) {
    auto order = opened();
    std::string before;
    const auto only_grew = [&] {
        const std::string now = bytes_of(path("live.toml"));
        EXPECT_TRUE(now.starts_with(before));
        EXPECT_GT(now.size(), before.size());
        before = now;
    };
    only_grew();
    listened_to_file("W1.csv", *order);
    only_grew();
    ASSERT_TRUE(order->move_last(4, {"TO", "another specimen hung there", Instant{}}));
    only_grew();
    ASSERT_TRUE(order->set_last_aside({"TO", "slipped \"out\" of the clamp", Instant{}}));
    only_grew();
}

TEST_F(ListeningForAnOrder, APersonMovesARunToItsTruePlace) {
    auto order = opened();
    listened_to_file("W1.csv", *order);
    // W2 front instead of W1 back, which is open again.
    const auto moved = order->move_last(2, {"TO", "the wrong key was pressed", Instant{}});
    ASSERT_TRUE(moved) << moved.error().text();
    EXPECT_EQ(moved->place->label(), "W2 front dry-1 + 1");
    EXPECT_FALSE(order->places()[1].filled);
    EXPECT_TRUE(order->places()[2].filled);
    order.reset();
    const auto runs = judged().record.judgement.runs;
    EXPECT_EQ(runs.at(1).key.label(), "W2 front dry-1 + 1");
    EXPECT_TRUE(runs.at(1).counts);
}

TEST_F(ListeningForAnOrder, ARunThatWasSetAsideStaysAndItsPlaceIsOpenAgain) {
    auto order = opened();
    listened_to_file("W1.csv", *order);
    ASSERT_FALSE(order->set_last_aside({"TO", "", Instant{}}));
    ASSERT_TRUE(order->set_last_aside({"TO", "slipped out of the clamp", Instant{}}));
    EXPECT_EQ(order->places()[*order->next_place()].key.label(), "W1 back dry-1 + 1");
    const Told told = listened_to_file("W2.csv", *order);
    const auto runs = told.all<work::RunRecorded>();
    ASSERT_EQ(runs.size(), 2u);
    EXPECT_EQ(runs[0].place->label(), "W1 back dry-1 + 1");
    EXPECT_NE(runs[0].retest_cause.find("slipped out of the clamp"), std::string::npos);
    EXPECT_EQ(runs[1].place->label(), "W2 front dry-1 + 1");
    order.reset();
    const auto judged_runs = judged().record.judgement.runs;
    EXPECT_FALSE(judged_runs.at(1).counts);
    EXPECT_TRUE(judged_runs.at(2).counts);
    EXPECT_EQ(judged_runs.at(1).key, judged_runs.at(2).key);
}

TEST_F(ListeningForAnOrder, ARunOfTheOtherPolarityIsKeptAndDoesNotCount) {
    // The plan asks for the negative one; the recording is positive.
    std::string method = bytes_of(EBBTIDE_SOURCE_DIR "/methods/mil-dtl-44031e-method.toml");
    const std::size_t at = method.find("polarities = ");
    ASSERT_NE(at, std::string::npos);
    method.replace(at, method.find('\n', at) - at, "polarities = \"negative\"");
    write_bytes(path("method.toml"), method);
    change("order.toml", "file = \"mil-dtl-44031e-method\"", "file = \"method.toml\"");
    auto order = opened();
    ASSERT_TRUE(order);
    const Told told = listened_to_file("W1.csv", *order);
    const auto runs = told.all<work::RunRecorded>();
    ASSERT_EQ(runs.size(), 2u);
    EXPECT_FALSE(runs[0].counts);
    EXPECT_TRUE(std::ranges::any_of(runs[0].run.flags, [](const plan::Flag& flag) {
        return flag.code == plan::FlagCode::polarity_differs;
    }));
    // Its place stays open: the next run repeats it.
    EXPECT_EQ(runs[1].place, runs[0].place);
    EXPECT_FALSE(runs[1].retest_cause.empty());
    EXPECT_TRUE(std::filesystem::exists(path(runs[0].file)));
}

TEST_F(ListeningForAnOrder, BehindTheLastPlaceThePlanGoesOnAtItsFirstOpenOne) {
    auto order = opened();
    const std::size_t places = order->places().size();
    EXPECT_EQ(places, 24u);  // twelve specimens, two faces
    ASSERT_TRUE(order->choose(places - 1));
    EXPECT_FALSE(order->choose(places));
    const auto runs = listened_to_file("W1.csv", *order).all<work::RunRecorded>();
    ASSERT_EQ(runs.size(), 2u);
    EXPECT_EQ(runs[0].place->label(), "F6 back dry-1 + 1");
    EXPECT_EQ(runs[1].place->label(), "W1 front dry-1 + 1");
}

TEST_F(ListeningForAnOrder, RunsBeyondThePlanAreKeptAndDoNotCount) {
    // One specimen with its two faces.
    std::string text = bytes_of(path("order.toml"));
    text.resize(text.find("[[specimen]]", text.find("[[specimen]]") + 1));
    write_bytes(path("order.toml"), text);
    auto order = opened();
    ASSERT_TRUE(order);
    listened_to_file("W1.csv", *order);
    EXPECT_FALSE(order->next_place());
    const auto runs = listened_to_file("W2.csv", *order).all<work::RunRecorded>();
    ASSERT_EQ(runs.size(), 2u);
    for (const auto& run : runs) {
        EXPECT_FALSE(run.place);
        EXPECT_FALSE(run.counts);
        EXPECT_TRUE(std::filesystem::exists(path(run.file)));
    }
    order.reset();
    std::size_t counting = 0;
    const auto judged_runs = judged().record.judgement.runs;
    for (const judge::JudgedRun& run : judged_runs) counting += run.counts ? 1 : 0;
    EXPECT_EQ(judged_runs.size(), 4u);
    EXPECT_EQ(counting, 2u);
}

TEST_F(ListeningForAnOrder, EveryRunIsInTheLedgerBeforeItIsSaidToBe) {
    const std::string path_of_ledger = beside_ / "lab.ledger";
    ASSERT_TRUE(ledger::create_ledger(path_of_ledger));
    auto order = opened(path_of_ledger);
    ASSERT_TRUE(order);
    recording::ReadOptions read;
    order->name_channels(read);
    auto source = work::open_live_source({"replay:" + recording_w1 + "?pace=0", false, read, {}});
    work::ListenRequest request;
    request.source = "test";
    request.measure = order->measure_request();
    request.now = [] { return Instant{}; };
    std::size_t seen = 0;
    const auto heard = work::listen(*source, request, order.get(), {[&](const LiveEvent& event) {
        const auto* run = std::get_if<work::RunRecorded>(&event);
        if (run == nullptr) return;
        ++seen;
        EXPECT_TRUE(run->in_ledger);
        auto reader = ledger::open_ledger(path_of_ledger, ledger::Database::Access::read);
        ASSERT_TRUE(reader);
        EXPECT_EQ(ledger::segment(*reader, run->recording).value(), bytes_of(path(run->file)));
        EXPECT_TRUE(*ledger::has_segment(*reader, sha256_hex(bytes_of(path("live.toml")))));
    }});
    ASSERT_TRUE(heard) << heard.error().text();
    EXPECT_EQ(seen, 2u);
}

TEST_F(ListeningForAnOrder, WhatStandsBetweenTheRunsIsKeptTenTimesASecond) {
    auto order = opened();
    listened_to_file("W1.csv", *order);
    auto idle = recording::open(path(order->session_file("idle")), [] {
        recording::ReadOptions options;
        options.specimen = "Specimen monitor (V) mean";
        return options;
    }());
    ASSERT_TRUE(idle) << idle.error().text();
    EXPECT_EQ((*idle)->description().channels.size(), 6u);
    recording::Block block;
    std::size_t samples = 0;
    while (*(*idle)->next(block)) samples += block.channels[0].value.size();
    EXPECT_GT(samples, 100u);
}

TEST_F(ListeningForAnOrder, AnOrderWithoutALiveFileOrConditionsIsRefused) {
    const auto no_conditions = work::LiveOrder::open({folder(), "", "", {}});
    ASSERT_FALSE(no_conditions);
    EXPECT_NE(no_conditions.error().remedy.find("dry-1, dry-2"), std::string::npos);
    change("order.toml", "live = \"live.toml\"\n", "");
    const auto no_live = work::LiveOrder::open({folder(), "dry-1", "", {}});
    ASSERT_FALSE(no_live);
}
