#include "work/listen.hpp"

#include <fmt/format.h>
#include <malloc.h>

#include <utility>

#include "recording/container_writer.hpp"
#include "work/frames.hpp"
#include "work/measuring.hpp"
#include "work/run_progress.hpp"

namespace ebbtide::work {
namespace {

/// What stands beside the runs in the order's folder: everything, or frames.
class BesideRuns {
  public:
    static Result<std::unique_ptr<BesideRuns>> open(const LiveOrder& order, bool all,
                                                    const recording::Description& source) {
        const std::string name = order.session_file(all ? "all" : "idle");
        auto sink = recording::new_file(order.folder() + "/" + name);
        if (!sink) return sink.error();
        auto out = std::make_unique<BesideRuns>(std::move(sink).value(), all);
        recording::Description about = source;
        if (!all) {
            about.channels.clear();
            for (const trace::ChannelDescription& channel : source.channels)
                for (const char* what : {"lowest", "highest", "mean"}) {
                    trace::ChannelDescription part = channel;
                    part.heading = fmt::format("{} {}", channel.heading, what);
                    // Nobody should measure runs in it unasked.
                    part.quantity = trace::Quantity::other;
                    part.column = 0;
                    about.channels.push_back(std::move(part));
                }
        }
        if (auto described = out->writer_.describe(about); !described) return described.error();
        return out;
    }
    BesideRuns(std::unique_ptr<recording::ByteSink> sink, bool all) : writer_(std::move(sink)), all_(all) {}

    Result<Done> take(const recording::Block& block) {
        if (!all_) return Done{};
        return writer_.block(block);
    }
    Result<Done> take(const Frame& frame) {
        if (all_) return Done{};
        recording::Block block;
        block.starts_segment = !begun_ || frame.from_s < last_s_;
        begun_ = true;
        last_s_ = frame.from_s;
        for (const Frame::Channel& channel : frame.channels)
            for (const double value : {channel.lowest, channel.highest, channel.mean}) {
                block.channels.emplace_back();
                if (channel.samples == 0) continue;
                block.channels.back().time_s.push_back(frame.from_s);
                block.channels.back().value.push_back(value);
            }
        return writer_.block(block);
    }
    Result<Done> finish() { return writer_.finish({}); }

  private:
    recording::ContainerWriter writer_;
    bool all_, begun_ = false;
    double last_s_ = 0;
};

class Listening {
  public:
    Listening(LiveSource& source, const ListenRequest& request, LiveOrder* order,
              const std::vector<LiveSink>& sinks)
        : source_(*source.samples),
          request_(request),
          order_(order),
          sinks_(sinks),
          measuring_(
              source_, request.measure,
              [this](const MeasuredRun& run, const decay::RunTrace&) { recorded(run); },
              [this](const recording::Block& run) { return kept(run); }) {
        const recording::Description& about = source_.description();
        tell(SourceOpened{request.source, about.format, about.dialect, source.ceiling, about.channels});
    }

    Result<Heard> run() {
        if (auto unfit = measuring_.unfit()) return *unfit;
        if (order_) {
            auto beside = BesideRuns::open(*order_, request_.keep_all || order_->record().order.keep_all,
                                           source_.description());
            if (!beside) return beside.error();
            beside_ = std::move(beside).value();
            for (const std::string& stray : order_->strays())
                tell(Prompt{
                    fmt::format("{} holds a run that has no place in the live file: writing was broken "
                                "off. List it in order.toml, or move it away",
                                stray)});
            if (order_->lacks_reference())
                tell(
                    Prompt{"The method takes V0 from the empty fixture, and no such run is recorded yet: say "
                           "that the next run is one before it is made"});
            tell_plan();
        }
        recording::Block block;
        for (;;) {
            const auto more = source_.next(block);
            if (!more) heard_.broken = more.error();
            if (!more || !*more) break;
            if (auto taken = take(block); !taken) return taken.error();
            if (heard_.broken) break;
        }
        // Whatever ended it: a run that has fallen is one.
        if (auto ended = measuring_.end(); !ended) return ended.error();
        if (failed_) return *failed_;
        if (beside_)
            if (auto finished = beside_->finish(); !finished) return finished.error();
        SourceEnded ended;
        ended.lost = heard_.broken.has_value();
        ended.reason = heard_.broken ? heard_.broken->text() : "nothing more comes";
        ended.runs = heard_.runs;
        ended.bytes = source_.bytes();
        ended.sha256 = source_.sha256();
        tell(ended);
        return heard_;
    }

  private:
    void tell(const LiveEvent& event) const {
        for (const LiveSink& sink : sinks_) sink(event);
    }
    void tell_plan() const {
        tell(PlanChanged{order_->places(), order_->next_place(), order_->next_reference()});
    }

    /// Errors: those of the disk. What is wrong with the source ends listening in good order.
    Result<Done> take(const recording::Block& block) {
        for (const trace::Notice& notice : block.notices) tell(NoticeSeen{notice});
        if (beside_)
            if (auto written = beside_->take(block); !written) return written;
        if (const auto taken = measuring_.take(block); !taken) {
            if (failed_) return *failed_;
            heard_.broken = taken.error();
            return Done{};
        }
        if (failed_) return *failed_;
        let_go_of_runs();
        std::optional<Error> unwritten;
        frames_.take(block, [&](const Frame& frame) {
            tell(frame);
            if (beside_ && !unwritten)
                if (auto written = beside_->take(frame); !written) unwritten = written.error();
        });
        if (unwritten) return *unwritten;
        progress_.follow(measuring_, [this](const LiveEvent& event) { tell(event); });
        return Done{};
    }

    /// What a run took is given back: the allocator would keep blocks of this size, and more with every run.
    void let_go_of_runs() {
        if (told_ == heard_.runs) return;
        told_ = heard_.runs;
        measuring_.forget_runs();
        container_ = {};
        ::malloc_trim(0);
    }

    /// Comes before recorded() of the same run.
    Result<Done> kept(const recording::Block& run) {
        auto container = run_container(source_.description(), run);
        if (!container) return container.error();
        container_ = std::move(container).value();
        return Done{};
    }

    void recorded(const MeasuredRun& run) {
        if (failed_) return;
        ++heard_.runs;
        if (!order_) {
            RunRecorded out;
            out.run = run;
            out.recording = container_.sha256;
            // Without a method the usual consequences hold.
            for (const plan::Flag& flag : run.flags) {
                out.counts = out.counts && flag.consequence != plan::Consequence::void_run;
                out.fails = out.fails || flag.consequence == plan::Consequence::fail_specimen;
            }
            tell(out);
            return;
        }
        auto kept = order_->keep(run, container_, request_.source, request_.now());
        if (!kept) {
            failed_ = kept.error();
        } else if (*kept) {
            tell(**kept);
            tell_plan();
        } else {
            tell(Prompt{
                fmt::format("run {} is recorded already and was not kept twice", run.run_id.substr(0, 12))});
        }
    }

    recording::Source& source_;
    const ListenRequest& request_;
    LiveOrder* order_;
    const std::vector<LiveSink>& sinks_;
    Measuring measuring_;
    Frames frames_;
    std::unique_ptr<BesideRuns> beside_;
    RunContainer container_;  // of the run at hand
    Heard heard_;
    std::uint64_t told_ = 0;       // runs that were let go of
    std::optional<Error> failed_;  // writing
    RunProgress progress_;
};

}  // namespace

Result<Heard> listen(LiveSource& source, const ListenRequest& request, LiveOrder* order,
                     const std::vector<LiveSink>& sinks) {
    return Listening(source, request, order, sinks).run();
}

}  // namespace ebbtide::work
