#pragma once
// A stream that brings what the test laid down, in the pieces that it asks for.

#include <algorithm>
#include <functional>
#include <string>

#include "transport/byte_stream.hpp"

namespace ebbtide::testing_support {

class ScriptedStream final : public transport::ByteStream {
  public:
    /// `piece`: bytes of the next arrival, at least 1.
    ScriptedStream(std::string bytes, std::function<std::size_t()> piece)
        : bytes_(std::move(bytes)), piece_(std::move(piece)) {}

    /// `lost` bytes are missing before the bytes from `at` on.
    ScriptedStream& lose(std::size_t at, std::uint64_t lost) {
        hole_at_ = at;
        lost_ = lost;
        return *this;
    }
    /// Instead of an end, the link is lost.
    ScriptedStream& break_off() {
        breaks_ = true;
        return *this;
    }

    Result<transport::Arrival> read(char* into, std::size_t room, double) override {
        using State = transport::Arrival::State;
        if (used_ == bytes_.size()) {
            if (breaks_) return Error{Fault::unreadable, "the link is lost: test", name_, "Try again"};
            return transport::Arrival{State::ended};
        }
        std::size_t count = std::min({room, std::max<std::size_t>(piece_(), 1), bytes_.size() - used_});
        if (used_ < hole_at_) count = std::min(count, hole_at_ - used_);
        transport::Arrival arrival{State::bytes, count};
        if (lost_ > 0 && used_ == hole_at_) {
            arrival.lost = lost_;
            lost_ = 0;
        }
        bytes_.copy(into, count, used_);
        used_ += count;
        return arrival;
    }
    const std::string& name() const override { return name_; }
    [[nodiscard]] std::size_t used() const { return used_; }

  private:
    std::string bytes_;
    std::function<std::size_t()> piece_;
    std::size_t used_ = 0, hole_at_ = 0;
    std::uint64_t lost_ = 0;
    bool breaks_ = false;
    std::string name_ = "test stream";
};

}  // namespace ebbtide::testing_support
