// 'ebbtide compare' as a person or a script runs it, and its document against docs/formats/compare.md.

#include <gtest/gtest.h>

#include "support/documented_keys.hpp"
#include "support/program.hpp"

namespace {

using namespace ebbtide::testing_support;
using nlohmann::json;

constexpr const char* before = "specimen,decay_s,status\nA,0.30,measured\nB,0.34,measured\nC,0.27,measured\n";
constexpr const char* after =
    "specimen,decay_s,status\nA,0.38,measured\nB,0.41,measured\nC,0.50,not_reached\n";

void expect_comparison_as_documented(const json& document) {
    EXPECT_EQ(keys_of(document), documented("compare.md", "## ebbtide.compare/1"));
    EXPECT_EQ(document["schema"], "ebbtide.compare/1");
    for (const json& group : document["groups"])
        EXPECT_EQ(keys_of(group), documented("compare.md", "### A group"));
    for (const json& pair : document["pairs"])
        EXPECT_EQ(keys_of(pair), documented("compare.md", "### A pair"));
    if (document["overall"].is_object()) {
        EXPECT_EQ(keys_of(document["overall"]), documented("compare.md", "### All groups"));
    }
    if (document["trend"].is_object()) {
        EXPECT_EQ(keys_of(document["trend"]), documented("compare.md", "### A change with time"));
    }
}

TEST(CompareCommand, ComparesTablesFileByFile) {
    const TemporaryFolder folder;
    write_bytes(folder / "before.csv", before);
    write_bytes(folder / "after.csv", after);
    const json found = run({"compare", folder / "before.csv", folder / "after.csv", "--json"}).json();
    expect_comparison_as_documented(found);
    ASSERT_EQ(found["pairs"].size(), 1u);
    EXPECT_GT(found["pairs"][0]["ratio"], 1.25);  // after over before, the bound counted as one
    EXPECT_FALSE(found["pairs"][0]["paired"]);    // one of the three is only a bound
    EXPECT_EQ(found["groups"][1]["not_reached"], 1);
    EXPECT_TRUE(found["level"].is_null());
    const Ran text = run({"compare", folder / "before.csv", folder / "after.csv"});
    EXPECT_EQ(text.exit, 0);
    EXPECT_NE(text.out.find("what these groups say"), std::string::npos) << text.out;
    EXPECT_NE(text.out.find("times as long as"), std::string::npos) << text.out;
}

TEST(CompareCommand, ComparesTheFacesStatesAndLotsOfOrdersAndOfTheirReports) {
    const TemporaryFolder folder;
    const std::string order = "examples/halyard-cloth", pdf = folder / "r.pdf";
    const json states = run({"compare", order, "--by", "direction,state", "--json"}).json();
    expect_comparison_as_documented(states);
    ASSERT_EQ(states["groups"].size(), 4u);
    EXPECT_EQ(states["pairs"].size(), 6u);
    EXPECT_EQ(states["sources"], json::array({"TP-2026-0914"}));
    ASSERT_EQ(run({"report", order, "-o", pdf}).exit, 0);
    const json from_report = run({"compare", pdf, "--by", "direction,state", "--json"}).json();
    EXPECT_EQ(from_report["groups"], states["groups"]);  // bit for bit
    EXPECT_EQ(from_report["pairs"], states["pairs"]);
}

TEST(CompareCommand, KnowsTheSuppliersThatAnOrderStates) {
    const TemporaryFolder folder;
    std::filesystem::copy(EBBTIDE_SOURCE_DIR "/examples/halyard-cloth", folder / "order",
                          std::filesystem::copy_options::recursive);
    std::string text = bytes_of(folder / "order/order.toml");
    for (const char* supplier : {"Hare Weir", "Low Mill"})
        text.insert(text.rfind("condition_on_receipt", text.rfind("supplier") - 1),
                    "supplier = \"" + std::string(supplier) + "\"\n");
    write_bytes(folder / "order/order.toml", text);
    const json found = run({"compare", folder / "order", "--by", "supplier", "--json"}).json();
    ASSERT_EQ(found["groups"].size(), 2u);
    EXPECT_EQ(found["groups"][0]["name"], "Low Mill");
    EXPECT_EQ(found["groups"][1]["name"], "Hare Weir");
}

TEST(CompareCommand, WritesADocumentWithItsFiguresInside) {
    const TemporaryFolder folder;
    write_bytes(folder / "before.csv", before);
    write_bytes(folder / "after.csv", after);
    for (const char* name : {"compare.pdf", "compare.html"}) {
        ASSERT_EQ(run({"compare", folder / "before.csv", folder / "after.csv", "-o", folder / name}).exit, 0);
        EXPECT_TRUE(bytes_of(folder / name).starts_with(name[8] == 'p' ? "%PDF" : "<!")) << name;
    }
    const std::string page = bytes_of(folder / "compare.html");
    for (const char* words : {"geometric mean", "The groups", "What this does not prove"})
        EXPECT_NE(page.find(words), std::string::npos) << words;
}

TEST(CompareCommand, FollowsTheTime) {
    const TemporaryFolder folder;
    std::string table = "supplier,date,decay_s\n";
    for (int year = 2021; year < 2026; ++year)
        for (const char* supplier : {"mill one", "mill two"})
            for (const double off : {0.0, 0.02})
                table += std::string(supplier) + "," + std::to_string(year) + "-05-04," +
                         std::to_string(0.3 + 0.03 * (year - 2021) + off) + "\n";
    write_bytes(folder / "years.csv", table);
    const json found = run({"compare", folder / "years.csv", "--by", "supplier", "--json"}).json();
    expect_comparison_as_documented(found);
    ASSERT_TRUE(found["trend"].is_object());
    EXPECT_LT(found["trend"]["p"], 0.01);
    const json years = run({"compare", folder / "years.csv", "--by", "year", "--json"}).json();
    expect_comparison_as_documented(years);
    EXPECT_EQ(years["groups"].size(), 5u);
    EXPECT_TRUE(years["overall"].is_object());
}

TEST(CompareCommand, RefusesWhatItCannotCompare) {
    const TemporaryFolder folder;
    write_bytes(folder / "times.csv", before);
    const auto refused = [](const std::vector<std::string>& words, const std::string& because) {
        const Ran ran = run(words);
        EXPECT_EQ(ran.exit, 2) << words[1];
        EXPECT_TRUE(ran.out.empty());
        EXPECT_NE(ran.err.find(because), std::string::npos) << ran.err;
    };
    refused({"compare", folder / "times.csv"}, "all times are of one source");
    refused({"compare", folder / "times.csv", "--by", "taste"}, "'taste' is nothing to compare by");
    refused({"compare", folder / "missing.csv"}, "cannot be read");
    refused({"compare", folder / "times.csv", "--level", "10%"}, "--level");
    refused({"compare", "examples/halyard-cloth", "--by", "supplier"}, "no time says what its supplier is");
    refused({"compare", folder / "times.csv", "-o", folder / "out.txt"}, "out.txt");
}

}  // namespace
