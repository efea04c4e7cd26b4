// The store between a line and the work: it keeps order, holds a sender up or counts what it loses, and never
// makes one line of two.

#include <gtest/gtest.h>

#include <atomic>
#include <chrono>
#include <thread>

#include "transport/buffered.hpp"

namespace ebbtide::transport {
namespace {

using State = Arrival::State;

/// Brings numbered lines as fast as they are asked for.
class NumberedLines final : public ByteStream {
  public:
    NumberedLines(std::size_t lines, std::size_t piece) : lines_(lines), piece_(piece) {}
    Result<Arrival> read(char* into, std::size_t room, double) override {
        while (waiting_.size() < piece_ && next_ < lines_) waiting_ += std::to_string(next_++) + ",12345\n";
        if (waiting_.empty()) return Arrival{State::ended};
        const std::size_t count = std::min({room, piece_, waiting_.size()});
        waiting_.copy(into, count);
        waiting_.erase(0, count);
        given_ += count;
        return Arrival{State::bytes, count};
    }
    const std::string& name() const override { return name_; }
    std::atomic<std::uint64_t> given_ = 0;

  private:
    std::size_t lines_, piece_, next_ = 0;
    std::string waiting_, name_ = "numbered lines";
};

struct Everything {
    std::string bytes;
    std::uint64_t lost = 0;
};

Everything read_to_end(ByteStream& stream) {
    Everything out;
    char room[1000];
    for (;;) {
        const auto arrival = stream.read(room, sizeof room, 5);
        if (!arrival) {
            ADD_FAILURE() << arrival.error().text();
            return out;
        }
        out.lost += arrival->lost;
        if (arrival->state != State::bytes) return out;
        out.bytes.append(room, arrival->count);
    }
}

}  // namespace

TEST(Buffered, LosesNothingWhereTheSenderCanWait) {
    constexpr std::size_t lines = 100'000;
    const auto stream = buffered(std::make_unique<NumberedLines>(lines, 777), 1, WhenFull::wait);
    const Everything all = read_to_end(*stream);
    EXPECT_EQ(all.lost, 0u);
    std::string wanted;
    for (std::size_t i = 0; i < lines; ++i) wanted += std::to_string(i) + ",12345\n";
    EXPECT_TRUE(all.bytes == wanted);
}

TEST(Buffered, CountsEveryByteThatALineCouldNotKeepAndLeavesLinesWhole) {
    auto lines = std::make_unique<NumberedLines>(200'000, 777);
    NumberedLines& source = *lines;
    const auto stream = buffered(std::move(lines), 1, WhenFull::drop);
    // Nobody reads until the line has brought all of it, some 2.5 MB into a store of 128 KiB.
    for (std::uint64_t before = 1; before != source.given_;) {
        before = source.given_;
        std::this_thread::sleep_for(std::chrono::milliseconds(50));
    }
    const Everything all = read_to_end(*stream);
    EXPECT_GT(all.lost, 0u);
    EXPECT_EQ(all.bytes.size() + all.lost, source.given_);
    long last = -1;
    for (std::size_t at = 0; at < all.bytes.size();) {
        const std::size_t end = all.bytes.find('\n', at);
        ASSERT_NE(end, std::string::npos);
        const std::string line = all.bytes.substr(at, end - at);
        const long number = std::stol(line);
        ASSERT_EQ(line, std::to_string(number) + ",12345");
        ASSERT_GT(number, last);
        last = number;
        at = end + 1;
    }
}

TEST(Buffered, HandsOnEveryByteAtOnceWhereNothingCanBeLost) {
    class Pausing final : public ByteStream {
      public:
        Result<Arrival> read(char* into, std::size_t, double timeout_s) override {
            if (sent_) {
                std::this_thread::sleep_for(std::chrono::duration<double>(timeout_s));
                return Arrival{};
            }
            sent_ = true;
            into[0] = '\x89';
            return Arrival{State::bytes, 1};
        }
        const std::string& name() const override { return name_; }

      private:
        bool sent_ = false;
        std::string name_ = "pausing";
    };
    for (const WhenFull when_full : {WhenFull::wait, WhenFull::drop}) {
        const auto stream = buffered(std::make_unique<Pausing>(), 1, when_full);
        char room[8];
        const auto arrival = stream->read(room, sizeof room, 5);
        ASSERT_TRUE(arrival);
        EXPECT_EQ(arrival->count, 1u);
    }
}

TEST(Buffered, EndsWhileItsSenderIsStillHeldUp) {
    const auto start = std::chrono::steady_clock::now();
    {
        const auto stream = buffered(std::make_unique<NumberedLines>(1'000'000, 777), 1, WhenFull::wait);
        std::this_thread::sleep_for(std::chrono::milliseconds(30));
    }
    // It would hang for ever otherwise; five seconds are slack for a busy machine.
    EXPECT_LT(std::chrono::steady_clock::now() - start, std::chrono::seconds(5));
}

}  // namespace ebbtide::transport
