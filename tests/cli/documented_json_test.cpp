// docs/formats/measure.md and record.md against what the program writes, key by key.

#include <gtest/gtest.h>

#include <cmath>
#include <limits>

#include "report/report.hpp"
#include "support/documented_keys.hpp"
#include "support/program.hpp"

namespace {

using namespace ebbtide::testing_support;
using nlohmann::json;

/// What a fall says of its law, as a run of fit or as `law` of a run of measure.
void expect_law_as_documented(const json& law, const Keys& beside) {
    Keys keys = documented("fit.md", "### A run");
    for (const char* of_fit : {"run", "flags"}) keys.erase(of_fit);
    keys.insert(beside.begin(), beside.end());
    EXPECT_EQ(keys_of(law), keys);
    const Keys time = documented("fit.md", "### An extrapolated time");
    for (const json& one : law["extrapolated"]) EXPECT_EQ(keys_of(one), time);
    for (const json& model : law["models"]) {
        EXPECT_EQ(keys_of(model), documented("fit.md", "### A model"));
        for (const json& one : model["extrapolated"]) EXPECT_EQ(keys_of(one), time);
    }
    for (const json& point : law["residuals"])
        EXPECT_EQ(keys_of(point), documented("fit.md", "### A residual"));
    if (law["sides"].is_object()) {
        EXPECT_EQ(keys_of(law["sides"]), documented("fit.md", "### Both sides"));
    }
}

void expect_run_as_documented(const json& run) {
    EXPECT_EQ(keys_of(run), documented("measure.md", "### A run"));
    if (run["law"].is_object()) expect_law_as_documented(run["law"], {});
    ASSERT_FALSE(run["levels"].empty());
    for (const json& level : run["levels"]) {
        EXPECT_EQ(keys_of(level), documented("measure.md", "### A level"));
        EXPECT_EQ(level["monte_carlo"].is_object(), level["status"] == "measured");
        if (level["monte_carlo"].is_object()) {
            EXPECT_EQ(keys_of(level["monte_carlo"]), documented("measure.md", "### A Monte Carlo result"));
        }
        for (const json& part : level["budget"])
            EXPECT_EQ(keys_of(part), (Keys{"source", "u", "unit", "sensitivity", "degrees_of_freedom",
                                           "scope", "correlated_with", "correlation", "pooled"}));
    }
    for (const json& flag : run["flags"]) EXPECT_EQ(keys_of(flag), (Keys{"code", "severity", "message"}));
}

TEST(MeasureDocument, HoldsExactlyTheDocumentedKeys) {
    const json file =
        run({"measure", "examples/halyard-cloth/recordings/W1.csv", "--json"}).json()["files"][0];
    EXPECT_EQ(keys_of(file), documented("measure.md", "### A file"));
    EXPECT_EQ(keys_of(file["channels"][0]), (Keys{"heading", "unit", "factor_to_SI", "quantity"}));
    for (const json& run : file["runs"]) expect_run_as_documented(run);
    // A refused file has the same keys.
    EXPECT_EQ(keys_of(run({"measure", "no-such-file", "--json"}).json()["files"][0]), keys_of(file));
}

std::vector<json> lines_of(const std::string& out) {
    std::vector<json> lines;
    std::istringstream text(out);
    for (std::string line; std::getline(text, line);) lines.push_back(json::parse(line));
    return lines;
}

TEST(LiveDocument, ARunHoldsExactlyTheDocumentedKeys) {
    const std::string source = "replay:examples/halyard-cloth/recordings/W1.csv?pace=0";
    Keys keys = documented("measure.md", "### A run");
    keys.merge(documented("live.md", "## ebbtide.run/1"));
    const auto runs = lines_of(run({"listen", source, "--json"}).out);
    ASSERT_EQ(runs.size(), 2u);
    for (const json& one : runs) EXPECT_EQ(keys_of(one), keys);

    const std::string page = bytes_of(EBBTIDE_SOURCE_DIR "/docs/formats/live.md");
    for (const json& line : lines_of(run({"listen", source, "--events"}).out)) {
        const std::string name = line["event"];
        const std::size_t row = page.find("| `" + name + "` |");
        ASSERT_NE(row, std::string::npos) << name;
        if (name == "run_recorded") continue;
        const std::string explained = page.substr(row, page.find('\n', row) - row);
        for (const std::string& key : keys_of(line))
            EXPECT_TRUE(key == "schema" || key == "event" ||
                        explained.find("`" + key + "`") != std::string::npos)
                << name << " " << key;
    }
}

TEST(FitDocument, HoldsExactlyTheDocumentedKeys) {
    const TemporaryFolder folder;
    std::string curve;
    for (int i = 0; i < 100; ++i)
        curve += std::to_string(i) + " " + std::to_string(100 * std::exp(-0.05 * i) + i % 3) + "\n";
    write_bytes(folder / "curve.txt", curve);
    const json file = run({"fit", "--xy", folder / "curve.txt", "--json"}).json()["files"][0];
    EXPECT_EQ(keys_of(file), documented("fit.md", "### A file"));
    expect_law_as_documented(file["runs"][0], {"run", "flags"});
    EXPECT_TRUE(file["runs"][0]["run"].is_null());
    const json recording =
        run({"fit", "examples/halyard-cloth/recordings/W1.csv", "--json"}).json()["files"][0];
    EXPECT_EQ(keys_of(recording), documented("fit.md", "### A file"));
    ASSERT_EQ(recording["runs"].size(), 2u);
    for (const json& one : recording["runs"]) {
        expect_law_as_documented(one, {"run", "flags"});
        EXPECT_EQ(one["run"].get<std::string>().size(), 64u);
        EXPECT_FALSE(one["residuals"].empty());
    }
    for (const char* kind : {"--xy", "--json"})  // a refused file has the same keys, of pairs and recordings
        EXPECT_EQ(keys_of(run({"fit", kind, "no-such-file", "--json"}).json()["files"][0]), keys_of(file));
}

TEST(MeasureDocument, GivesBudgetsThatMakeTheUncertainty) {
    const json document = run({"measure", "examples/halyard-cloth/recordings/W1.csv", "--bench",
                               "examples/halyard-cloth/bench.toml", "--json"})
                              .json();
    for (const json& run : document["files"][0]["runs"])
        for (const json& level : run["levels"]) {
            double square = 0, previous = std::numeric_limits<double>::infinity();
            for (const json& part : level["budget"]) {
                const double share = std::abs(part["sensitivity"].get<double>()) * part["u"].get<double>();
                EXPECT_LE(share, previous * (1 + 1e-12)) << "largest first";
                previous = share;
                square += share * share;
            }
            EXPECT_NEAR(std::sqrt(square), level["u_decay_s"].get<double>(), 1e-9 * std::sqrt(square));
        }
}

TEST(JudgeDocument, HoldsExactlyTheDocumentedKeys) {
    const json document = run({"judge", "examples/halyard-cloth", "--json"}).json();
    EXPECT_EQ(keys_of(document), documented("measure.md", "## ebbtide.judge/1"));
    EXPECT_EQ(document["schema"], "ebbtide.judge/1");
    ASSERT_EQ(document["runs"].size(), 25u);
    for (const json& run : document["runs"]) {
        EXPECT_EQ(keys_of(run), (Keys{"specimen", "face", "conditions", "polarity", "replicate", "label",
                                      "run", "figures", "flags", "counts", "fails", "without_specimen"}));
        expect_run_as_documented(run["figures"]);
    }
    for (const json& requirement : document["requirements"]) {
        EXPECT_EQ(keys_of(requirement),
                  (Keys{"demand", "id", "clause", "sentence", "level", "statistic", "group_by", "comparison",
                        "limit_s", "classes", "quantity", "limit", "outcome", "findings", "prior_risk"}));
        for (const json& finding : requirement["findings"])
            EXPECT_EQ(keys_of(finding),
                      (Keys{"group", "runs", "bound", "value_s", "u_s", "expanded_u_s", "spread_s",
                            "degrees_of_freedom", "guard_s", "wrong_acceptance", "wrong_rejection", "grade",
                            "supplied", "u_supplied", "outcome", "reason", "budget", "advice", "relief"}));
    }
    EXPECT_EQ(keys_of(document["method"]), (Keys{"id", "edition"}));
    EXPECT_EQ(keys_of(document["specification"]), (Keys{"id", "edition"}));
}

TEST(RejudgeDocument, HoldsExactlyTheDocumentedKeys) {
    const json document =
        run({"judge", "examples/halyard-cloth", "--levels", "1/e,1%", "--rule", "guarded", "--json"}).json();
    EXPECT_EQ(keys_of(document), documented("rejudge.md", "## ebbtide.rejudge/1"));
    EXPECT_EQ(document["schema"], "ebbtide.rejudge/1");
    EXPECT_EQ(keys_of(document["terms"]), (Keys{"specification", "levels", "decision_rule"}));
    for (const char* side : {"agreed", "instead"})
        EXPECT_EQ(keys_of(document[side]), (Keys{"statement", "reasons", "cautions", "runs", "requirements",
                                                 "specification", "decision_rule"}));
    ASSERT_GT(document["compared"].size(), 5u);
    for (const json& line : document["compared"])
        EXPECT_EQ(keys_of(line), documented("rejudge.md", "### A line of the comparison"));
}

TEST(LedgerFindDocument, HoldsExactlyTheDocumentedKeys) {
    const TemporaryFolder folder;
    const std::string ledger = folder / "lab.ledger";
    ASSERT_EQ(run({"ledger", "init", "--ledger", ledger}).exit, 0);
    ASSERT_EQ(run({"ledger", "add", "examples/halyard-cloth", "--ledger", ledger}).exit, 0);
    const json document = run({"ledger", "find", "--json", "--ledger", ledger}).json();
    EXPECT_EQ(keys_of(document), (Keys{"schema", "orders"}));
    EXPECT_EQ(document["schema"], "ebbtide.ledger-find/1");
    ASSERT_EQ(document["orders"].size(), 1u);
    const json order = document["orders"][0];
    EXPECT_EQ(keys_of(order), documented("ledger.md", "### An order"));
    EXPECT_EQ(keys_of(order["items"][0]), (Keys{"id", "material", "lot"}));
    for (const json& level : order["levels"])
        EXPECT_EQ(keys_of(level), documented("ledger.md", "### A level of a run"));
}

TEST(LedgerPedigreeDocument, HoldsExactlyTheDocumentedKeys) {
    const TemporaryFolder folder;
    const std::string path = folder / "lab.ledger", order = folder / "order";
    std::filesystem::copy(EBBTIDE_SOURCE_DIR "/examples/halyard-cloth", order,
                          std::filesystem::copy_options::recursive);
    std::string plan = bytes_of(order + "/order.toml");
    plan.resize(plan.find("[[recording]]", plan.find("[[recording]]") + 1));  // one is enough
    write_bytes(order + "/order.toml", plan);
    ASSERT_EQ(run({"ledger", "init", "--ledger", path}).exit, 0);
    ASSERT_EQ(run({"ledger", "add", order, "--ledger", path}).exit, 0);
    const auto ledger = [&](std::vector<std::string> words) {
        words.insert(words.begin(), "ledger");
        words.insert(words.end(), {"--json", "--ledger", path});
        return run(words).json();
    };
    for (const char* figure : {"TP-2026-0914", "TP-2026-0914/W1 front dry-1 + 1"}) {
        const json document = ledger({"pedigree", figure});
        EXPECT_EQ(keys_of(document), documented("ledger.md", "## ebbtide.ledger-pedigree/1"));
        EXPECT_EQ(document["schema"], "ebbtide.ledger-pedigree/1");
        for (const json& one : document["runs"]) {
            EXPECT_EQ(keys_of(one), documented("ledger.md", "### A run of a pedigree"));
            EXPECT_EQ(keys_of(one["entry"]), documented("ledger.md", "### An entry of a pedigree"));
        }
    }
    const json revisions = ledger({"revisions", "TP-2026-0914"});
    EXPECT_EQ(keys_of(revisions), (Keys{"schema", "order", "revisions"}));
    for (const json& one : revisions["revisions"])
        EXPECT_EQ(keys_of(one), documented("ledger.md", "### A revision"));

    write_bytes(folder / "old.csv", "material,tested,level,decay_s\nCloth,2019-05-06,10%,0.412\n");
    ASSERT_EQ(run({"ledger", "transcribe", folder / "old.csv", "--ledger", path, "--who", "TO", "--why",
                   "notebook 4"})
                  .exit,
              0);
    const json transcripts = ledger({"find", "--transcribed"});
    EXPECT_EQ(keys_of(transcripts), (Keys{"schema", "transcripts"}));
    EXPECT_EQ(keys_of(transcripts["transcripts"][0]), documented("ledger.md", "### A transcribed time"));
}

TEST(LedgerTrendDocument, HoldsExactlyTheDocumentedKeys) {
    const TemporaryFolder folder;
    const std::string ledger = folder / "lab.ledger";
    ASSERT_EQ(run({"ledger", "init", "--ledger", ledger}).exit, 0);
    ASSERT_EQ(run({"ledger", "add", "examples/halyard-cloth", "--ledger", ledger}).exit, 0);
    const json document =
        run({"ledger", "trend", "--material", "cloth", "--json", "--ledger", ledger}).json();
    EXPECT_EQ(keys_of(document), (Keys{"schema", "series"}));
    EXPECT_EQ(document["schema"], "ebbtide.ledger-trend/1");
    ASSERT_FALSE(document["series"].empty());
    for (const json& series : document["series"]) {
        EXPECT_EQ(keys_of(series), documented("ledger.md", "### A series"));
        for (const json& period : series["periods"])
            EXPECT_EQ(keys_of(period), documented("ledger.md", "### A period"));
    }
}

/// What every lot has, of bare times and of orders.
void expect_lot_as_documented(const json& lot, const Keys& beside) {
    Keys keys = documented("lot.md", "## ebbtide.lot/1");
    keys.erase("schema");
    keys.insert(beside.begin(), beside.end());
    EXPECT_EQ(keys_of(lot), keys);
    for (const json& step : lot["kaplan_meier"]) EXPECT_EQ(keys_of(step), documented("lot.md", "### A step"));
    Keys law = documented("lot.md", "### A law");
    for (const char* of_weibull : {"scale_s", "shape"}) law.erase(of_weibull);
    EXPECT_EQ(keys_of(lot["lognormal"]), law);
    for (const char* of_lognormal : {"mu", "sigma"}) law.erase(of_lognormal);
    law.insert({"scale_s", "shape"});
    EXPECT_EQ(keys_of(lot["weibull"]), law);
    for (const json& bound : lot["tolerance"]) EXPECT_EQ(keys_of(bound), documented("lot.md", "### A bound"));
    for (const json& one : lot["differences"])
        EXPECT_EQ(keys_of(one), documented("lot.md", "### A difference"));
    if (lot["risk"].is_object()) {
        EXPECT_EQ(keys_of(lot["risk"]), documented("lot.md", "### A risk"));
        if (lot["risk"]["global"].is_object()) {
            EXPECT_EQ(keys_of(lot["risk"]["global"]),
                      (Keys{"conforming", "shown", "refuted", "consumer", "producer", "open_conforming"}));
            EXPECT_EQ(keys_of(lot["risk"]["history"]), (Keys{"source", "mean_ln_decay", "sigma_between",
                                                             "sigma_within", "degrees_of_freedom"}));
        }
    }
}

TEST(LotDocument, HoldsExactlyTheDocumentedKeys) {
    const TemporaryFolder folder;
    write_bytes(folder / "times.csv",
                "specimen,replicate,face,decay_s,status,upper_s\n"
                "A,1,front,0.31,measured,\nA,2,back,0.33,measured,\nB,1,front,0.22,measured,0.24\n"
                "B,2,back,0.25,measured,\nC,1,front,0.5,not_reached,\nD,1,back,0.1,below_resolution,\n"
                "E,1,front,0.41,measured,\n");
    const json bounds = run({"lot", "--times", folder / "times.csv", "--limit", "0.45", "--json"}).json();
    EXPECT_EQ(bounds["schema"], "ebbtide.lot/1");
    expect_lot_as_documented(bounds, {"schema"});
    EXPECT_TRUE(bounds["turnbull"].is_object());
    EXPECT_FALSE(bounds["differences"].empty());
    write_bytes(folder / "measured.csv", "decay_s\n0.3\n0.4\n0.35\n");
    expect_lot_as_documented(run({"lot", "--times", folder / "measured.csv", "--json"}).json(), {"schema"});
    const json with_history = run({"lot", "--times", folder / "measured.csv", "--limit", "0.6",
                                   "--stated-history", "0.33", "1.1", "1.2", "--json"})
                                  .json();
    expect_lot_as_documented(with_history, {"schema"});
    EXPECT_TRUE(with_history["risk"]["global"].is_object());

    const json orders = run({"lot", "examples/halyard-cloth", "--json"}).json();
    EXPECT_EQ(orders["schema"], "ebbtide.lot/1");
    ASSERT_FALSE(orders["lots"].empty());
    for (const json& lot : orders["lots"])
        expect_lot_as_documented(lot, documented("lot.md", "### A lot of orders"));
    EXPECT_EQ(keys_of(run({"plan", "--beyond", "0.02", "--json"}).json()),
              documented("lot.md", "## ebbtide.plan/1"));
}

TEST(ValidationDocument, HoldsExactlyTheDocumentedKeys) {
    const json document = run({"validate", "--json"}).json();
    EXPECT_EQ(keys_of(document), documented("validation.md", "## ebbtide.validation/1"));
    EXPECT_EQ(document["schema"], "ebbtide.validation/1");
    EXPECT_EQ(keys_of(document["computer"]), documented("validation.md", "### The computer"));
    for (const json& check : document["checks"])
        EXPECT_EQ(keys_of(check), documented("validation.md", "### A check"));
}

TEST(RecordDocument, HoldsExactlyTheDocumentedKeys) {
    const TemporaryFolder folder;
    const std::string pdf = folder / "r.pdf";
    ASSERT_EQ(run({"report", "examples/halyard-cloth", "-o", pdf}).exit, 0);
    const auto attachments = ebbtide::report::attachments_of_pdf(bytes_of(pdf));
    ASSERT_TRUE(attachments.ok());
    json record;
    Keys names;
    for (const auto& file : *attachments) {
        names.insert(file.name);
        if (file.name == "record.json") record = json::parse(file.bytes);
    }
    EXPECT_EQ(keys_of(record), documented("record.md", "# ebbtide.record/1: the record of a judged order"));
    Keys inputs{"record.json"};
    for (const json& input : record["inputs"]) {
        EXPECT_EQ(keys_of(input), (Keys{"role", "name", "sha256", "bytes"}));
        inputs.insert(input["name"]);
    }
    EXPECT_EQ(names, inputs) << "each file of inputs is attached under its name";
    for (const json& recording : record["recordings"])
        EXPECT_EQ(keys_of(recording), (Keys{"file", "sha256", "bytes", "format", "dialect", "channels",
                                            "notices", "runs", "kept_by_runs"}));
    EXPECT_EQ(keys_of(record["judgement"]),
              (Keys{"runs", "requirements", "statement", "reasons", "cautions"}));
}

}  // namespace
