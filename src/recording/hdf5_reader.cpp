#include "recording/hdf5_reader.hpp"

#include <fmt/format.h>

#include "recording/hdf5_access.hpp"
#include "recording/hdf5_datasets.hpp"
#include "recording/hdf5_descriptor.hpp"
#include "recording/hdf5_own.hpp"
#include "recording/source_apart.hpp"
#include "recording/whole_file.hpp"

namespace ebbtide::recording {

namespace {

/// What the other process reads, with the bytes that this one hashes.
class Hdf5 final : public Source {
  public:
    Hdf5(WholeFile file, std::unique_ptr<Source> apart) : file_(std::move(file)), apart_(std::move(apart)) {}

    const Description& description() const override { return apart_->description(); }
    std::string sha256() override { return file_.sha256(); }
    std::uint64_t bytes() const override { return file_.size(); }
    Result<bool> next(Block& block) override {
        auto more = apart_->next(block);
        if (!more || *more) return more;
        if (auto done = file_.hash_all(); !done) return done.error();
        return false;
    }

  private:
    WholeFile file_;
    std::unique_ptr<Source> apart_;
};

}  // namespace

bool looks_like_hdf5(std::string_view head) {
    constexpr std::string_view sign = "\x89HDF\r\n\x1A\n";
    return head.starts_with(sign) || (head.size() > 512 && head.substr(512).starts_with(sign));
}

Result<std::unique_ptr<Source>> open_hdf5(Bytes bytes, const ReadOptions& options) {
    Result<WholeFile> file = WholeFile::of(std::move(bytes));
    if (!file) return file.error();
    const int descriptor = file->descriptor();
    const std::string name = file->name();
    auto apart = open_apart([&] { return hdf5::open_here(descriptor, name, options); }, descriptor, name);
    if (!apart) return apart.error();
    return std::unique_ptr<Source>(std::make_unique<Hdf5>(std::move(file).value(), std::move(apart).value()));
}

namespace hdf5 {

Result<std::unique_ptr<Source>> open_here(int descriptor, const std::string& name,
                                          const ReadOptions& options) {
    settle();
    Handle file = open_descriptor(descriptor);
    if (!file)
        return Error{Fault::bad_input, "is an HDF5 file that cannot be opened", name,
                     "It is damaged, or a program is still writing it: look for another copy, or let that "
                     "program end"};
    const auto schema = text_of(file.id(), "schema");
    // A damaged file of ours must not pass for another program's, whose numbers mean something else.
    if (!schema && !lacks_attribute(file.id(), "schema"))
        return Error{Fault::bad_input, "its attribute 'schema' cannot be read", name,
                     "The file is damaged: look for another copy"};
    if (!schema || !schema->starts_with(own_layout)) return open_datasets(std::move(file), name, options);
    if (*schema != own_schema)
        return Error{
            Fault::bad_input,
            fmt::format("its layout is {}, this program reads {}", schema->substr(0, 40), own_schema), name,
            "Read it with a newer version of the program"};
    return open_own(std::move(file), name, options);
}

}  // namespace hdf5

}  // namespace ebbtide::recording
