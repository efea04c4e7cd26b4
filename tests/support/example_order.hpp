#pragma once
// A copy of the example order that a test may change, judge and report.

#include <algorithm>

#include "support/program.hpp"
#include "work/judge_order.hpp"

namespace ebbtide::testing_support {

class ExampleOrder : public ::testing::Test {
  protected:
    void SetUp() override {
        std::filesystem::copy(EBBTIDE_SOURCE_DIR "/examples/halyard-cloth", folder(),
                              std::filesystem::copy_options::recursive);
    }
    [[nodiscard]] std::string folder() const { return beside_ / "order"; }
    [[nodiscard]] std::string path(const std::string& name) const { return folder() + "/" + name; }
    void change(const std::string& name, const std::string& from, const std::string& to) const {
        std::string content = bytes_of(path(name));
        const std::size_t at = content.find(from);
        ASSERT_NE(at, std::string::npos) << from;
        write_bytes(path(name), content.replace(at, from.size(), to));
    }
    /// The PDF of an order, under terms of its own or others.
    static std::string pdf_of(const work::OrderFiles& files, const plan::Terms& terms = {}) {
        auto judged = work::judge_order(files, Instant{}, {}, terms);
        EXPECT_TRUE(judged.ok()) << (judged.ok() ? "" : judged.error().text());
        if (!judged) return {};
        auto input = work::report_input(files, std::move(judged).value());
        EXPECT_TRUE(input.ok()) << (input.ok() ? "" : input.error().text());
        return input ? report::to_pdf(*input).value() : std::string();
    }
    static const report::Attachment* attachment(const std::vector<report::Attachment>& files,
                                                const std::string& name) {
        const auto found = std::ranges::find(files, name, &report::Attachment::name);
        return found == files.end() ? nullptr : &*found;
    }
    TemporaryFolder beside_;  ///< holds the order's folder and what lies outside it
};

inline bool any_holds(const std::vector<std::string>& lines, const std::string& part) {
    return std::ranges::any_of(lines,
                               [&](const std::string& line) { return line.find(part) != std::string::npos; });
}

}  // namespace ebbtide::testing_support
