#include "work/run_container.hpp"

#include <memory>
#include <utility>

#include "basis/sha256.hpp"
#include "recording/container_writer.hpp"

namespace ebbtide::work {

Result<RunContainer> run_container(const recording::Description& source, const recording::Block& run) {
    // What the bytes came by, and what stood between the lines, is no part of a run.
    recording::Description about = source;
    about.file.clear();
    about.metadata.clear();
    RunContainer out;
    recording::ContainerWriter writer(std::make_unique<recording::MemorySink>(out.bytes), true);
    if (auto described = writer.describe(about); !described) return described.error();
    if (auto written = writer.block(run); !written) return written.error();
    if (auto finished = writer.finish({}); !finished) return finished.error();
    out.sha256 = sha256_hex(out.bytes);
    return out;
}

Result<MeasuredRun> measured_from(const RunContainer& container, const recording::ReadOptions& read,
                                  const MeasureRequest& request) {
    auto source = recording::open_bytes(container.bytes, "the run", read);
    if (!source) return source.error();
    auto file = measure(**source, request);
    if (!file) return file.error();
    if (file->runs.size() != 1)
        return Error{Fault::bad_input, "the kept run cannot be measured again", "the run",
                     "Check that the bench file was not changed meanwhile"};
    return std::move(file->runs.front());
}

}  // namespace ebbtide::work
