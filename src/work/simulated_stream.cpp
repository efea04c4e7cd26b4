#include "work/simulated_stream.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cstring>
#include <utility>

#include "work/simulate.hpp"
#include "work/simulated_recorder.hpp"

namespace ebbtide::work {
namespace {

class SimulatedStream final : public transport::ByteStream {
  public:
    SimulatedStream(SimulatedRecorder recorder, std::string name)
        : recorder_(std::move(recorder)), name_(std::move(name)) {}

    /// Waits as long as the bench's pace makes a tenth of its second last, whatever the time-out.
    Result<transport::Arrival> read(char* into, std::size_t room, double) override {
        using State = transport::Arrival::State;
        if (used_ == text_.size()) {
            text_.clear();
            used_ = 0;
            const auto more = recorder_.go_on(text_);
            if (!more) return more.error();
            if (!*more && text_.empty()) return transport::Arrival{State::ended};
            // A bench out of reach shows nothing for a while.
            if (text_.empty()) return transport::Arrival{State::quiet};
        }
        const std::size_t count = std::min(room, text_.size() - used_);
        std::memcpy(into, text_.data() + used_, count);
        used_ += count;
        return transport::Arrival{State::bytes, count};
    }
    const std::string& name() const override { return name_; }

  private:
    SimulatedRecorder recorder_;
    std::string name_, text_;
    std::size_t used_ = 0;
};

}  // namespace

Result<std::unique_ptr<transport::ByteStream>> simulated_stream(const std::string& simulation,
                                                                const std::string& recording,
                                                                bench::Pace pace, const std::string& name) {
    const auto files = read_simulation(simulation);
    if (!files) return files.error();
    const auto& all = files->simulation.recordings;
    const auto found =
        recording.empty() ? all.begin() : std::ranges::find(all, recording, &plan::SimulatedRecording::file);
    if (found == all.end())
        return Error{Fault::bad_input,
                     recording.empty() ? "has no [[recording]] that could be heard"
                                       : fmt::format("has no [[recording]] '{}'", recording),
                     simulation, "Name one of those that it has; a bench without any is there to be driven"};
    auto recorder =
        SimulatedRecorder::open(files->simulation, files->bench,
                                static_cast<std::size_t>(found - all.begin()), files->simulation.seed, pace);
    if (!recorder) return recorder.error();
    return std::unique_ptr<transport::ByteStream>(
        std::make_unique<SimulatedStream>(std::move(recorder).value(), name));
}

}  // namespace ebbtide::work
