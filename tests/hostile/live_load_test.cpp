// A fast logger: two channels at 100,000 samples a second as a container over TCP, sent as fast as it is
// taken.
//
// Stated before running: 60 s of samples (3,600 s with EBBTIDE_LONG), one run every 12 s with a time constant
// of 0.1 s, noise of 5 V from a fixed sequence. Nothing may be lost; the sustained rate must be real time or
// better; after the first third of the minute the process may grow by 32 MiB at most, however long it goes
// on.

#include <fmt/format.h>
#include <gtest/gtest.h>
#include <unistd.h>

#include <chrono>
#include <cmath>
#include <cstdlib>
#include <fstream>
#include <thread>

#include "recording/container_writer.hpp"
#include "transport/tcp.hpp"
#include "work/listen.hpp"

namespace {

using namespace ebbtide;

constexpr double rate = 100'000, period_s = 12, hold_from_s = 1, release_s = 4, time_constant_s = 0.1;

class Wire final : public recording::ByteSink {
  public:
    explicit Wire(transport::Link& link) : link_(link) {}
    Result<Done> write(std::string_view bytes) override { return link_.write(bytes, 60); }
    Result<Done> sync() override { return Done{}; }

  private:
    transport::Link& link_;
};

/// Sends `seconds` of samples; the number of rows that left.
std::uint64_t send(transport::Link& link, double seconds) {
    recording::ContainerWriter writer(std::make_unique<Wire>(link));
    recording::Description about;
    about.channels.push_back({"specimen", "V", 1, trace::Quantity::specimen_voltage, 1});
    about.channels.push_back({"electrode", "V", 1, trace::Quantity::electrode_voltage, 2});
    EXPECT_TRUE(writer.describe(about));
    std::uint32_t drawn = 12345;
    const auto noise_V = [&drawn] {
        drawn = drawn * 1664525u + 1013904223u;
        return 5.0 * (static_cast<double>(drawn >> 8) / (1 << 23) - 1.0);
    };
    const auto rows = static_cast<std::uint64_t>(seconds * rate);
    recording::Block block;
    block.channels.resize(2);
    for (std::uint64_t row = 0; row < rows;) {
        block.starts_segment = row == 0;
        for (auto& channel : block.channels) {
            channel.time_s.clear();
            channel.value.clear();
        }
        for (int i = 0; i < 1000; ++i, ++row) {
            const double time_s = static_cast<double>(row) / rate, at_s = std::fmod(time_s, period_s);
            const bool up = at_s >= hold_from_s && at_s < release_s;
            const double fall = at_s < release_s ? 0 : std::exp(-(at_s - release_s) / time_constant_s);
            for (auto& channel : block.channels) channel.time_s.push_back(time_s);
            block.channels[0].value.push_back((up ? 5000 : 5000 * fall) + noise_V());
            block.channels[1].value.push_back((up ? 5000 : 0) + noise_V());
        }
        if (!writer.block(block)) return row;
    }
    EXPECT_TRUE(writer.finish({}));
    return rows;
}

/// Bytes of this process in memory.
double resident_bytes() {
    std::ifstream file("/proc/self/statm");
    double all = 0, resident = 0;
    file >> all >> resident;
    return resident * static_cast<double>(::sysconf(_SC_PAGESIZE));
}

#if defined(__SANITIZE_ADDRESS__)
constexpr bool instrumented = true;  // pace and memory are then the instruments'
#else
constexpr bool instrumented = false;
#endif

TEST(LiveLoad, TwoChannelsAt100000SamplesASecondAreTakenWholeInFlatMemory) {
    const double seconds = instrumented ? 24 : std::getenv("EBBTIDE_LONG") != nullptr ? 3600 : 60;
    auto listener = transport::TcpListener::on_loopback(0);
    ASSERT_TRUE(listener);
    std::uint64_t sent = 0;
    std::thread sender([&] {
        auto link = listener->accept(20);
        ASSERT_TRUE(link);
        sent = send(**link, seconds);
    });
    const auto start = std::chrono::steady_clock::now();
    auto source =
        work::open_live_source({fmt::format("tcp://127.0.0.1:{}", listener->port()), false, {}, {}});
    ASSERT_TRUE(source) << source.error().text();
    work::ListenRequest request;
    request.source = "load";
    request.measure = {work::usual_rules(), {}};
    request.measure.laws.emplace();
    request.measure.monte_carlo = true;
    std::uint64_t framed = 0, runs = 0, notices = 0;
    double warm = 0, most = 0;
    const auto heard = work::listen(*source, request, nullptr, {[&](const work::LiveEvent& event) {
        if (const auto* frame = std::get_if<work::Frame>(&event)) {
            framed += frame->channels[0].samples;
            if (framed % 100'000 > 10'000) return;
            if (frame->to_s < 20)
                warm = std::max(warm, resident_bytes());
            else
                most = std::max(most, resident_bytes());
        }
        if (std::holds_alternative<work::NoticeSeen>(event)) ++notices;
        if (const auto* run = std::get_if<work::RunRecorded>(&event)) {
            ++runs;
            // An exponential falls to a tenth in ln(10) time constants.
            const auto& level = run->run.figures.levels.back();
            ASSERT_TRUE(level.decay_s);
            EXPECT_NEAR(*level.decay_s, std::log(10.0) * time_constant_s, 4 * level.u_decay_s.value_or(0));
        }
    }});
    sender.join();
    const double took_s = std::chrono::duration<double>(std::chrono::steady_clock::now() - start).count();
    ASSERT_TRUE(heard) << heard.error().text();
    EXPECT_FALSE(heard->broken);
    EXPECT_EQ(notices, 0u);
    EXPECT_EQ(runs, static_cast<std::uint64_t>(seconds / period_s));
    // The last frame is still open when the source ends.
    EXPECT_GE(framed + 10'001, sent);
    EXPECT_EQ(sent, static_cast<std::uint64_t>(seconds * rate));
    if (!instrumented) {
        EXPECT_LT(took_s, seconds);
        EXPECT_LT(most - warm, 32.0 * 1024 * 1024);
    }
    fmt::print(
        "{:.0f} s of samples in {:.1f} s: {:.0f} samples a second on each of two channels, {:.0f} MiB more\n",
        seconds, took_s, static_cast<double>(sent) / took_s, (most - warm) / 1048576);
}

}  // namespace
