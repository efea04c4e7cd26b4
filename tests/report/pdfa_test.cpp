// The rules of PDF/A-3b (ISO 19005-3:2012; clause numbers from memory) that can be tested here, asked of
// every object of a report. Nothing at hand validates the whole.

#include <ft2build.h>
#include <gtest/gtest.h>
#include FT_FREETYPE_H

#define POINTERHOLDER_TRANSITION 4

#include <cmath>
#include <functional>
#include <qpdf/Buffer.hh>
#include <qpdf/QPDF.hh>
#include <qpdf/QPDFPageDocumentHelper.hh>
#include <qpdf/QPDFPageObjectHelper.hh>
#include <set>

#include "report/invented_order.hpp"

namespace {

using namespace ebbtide;
using Object = QPDFObjectHandle;
using testing_support::invented_report;

/// A report with everything that may trouble a rule: marks that XML must escape, letters beyond ASCII, text
/// that the font lacks, a draft's empty fields, a time that is no whole second.
report::ReportInput troublesome() {
    report::ReportInput input = invented_report();
    input.record.order.title = "Cloth <\"A\" & 'B'>, Prüfung π";
    input.record.order.laboratory.name = "Tern Point & Söhne";
    input.record.order.customer.name = "\xE5\xAE\xA2\xE6\x88\xB7";
    input.record.made.ns += 123'456'789;
    return input;
}

class Archive : public ::testing::TestWithParam<report::Paper> {
  protected:
    void SetUp() override {
        const auto written = report::to_pdf(troublesome(), GetParam());
        ASSERT_TRUE(written.ok()) << written.error().text();
        bytes_ = *written;
        pdf_.setAttemptRecovery(false);
        pdf_.processMemoryFile("report", bytes_.data(), bytes_.size());
    }
    /// Calls `seen` for every object, whole or part of another.
    void walk(const std::function<void(Object)>& seen) {
        const std::function<void(Object)> into = [&](Object object) {
            seen(object);
            if (object.isArray())
                for (Object item : object.aitems())
                    if (!item.isIndirect()) into(item);
            if (object.isStream()) object = object.getDict();
            if (object.isDictionary())
                for (auto& [key, value] : object.ditems())
                    if (!value.isIndirect()) into(value);
        };
        for (Object object : pdf_.getAllObjects()) into(object);
        into(pdf_.getTrailer());
    }
    static std::string data_of(Object stream) {
        const auto buffer = stream.getStreamData(qpdf_dl_all);
        return {reinterpret_cast<const char*>(buffer->getBuffer()), buffer->getSize()};
    }
    std::string bytes_;
    QPDF pdf_;
};

TEST_P(Archive, BeginsAndEndsAsItShould) {  // 6.1.2, 6.1.3
    EXPECT_TRUE(bytes_.starts_with("%PDF-1.7\n%"));
    for (std::size_t i = 10; i < 14; ++i) EXPECT_GT(static_cast<unsigned char>(bytes_.at(i)), 127);
    EXPECT_TRUE(bytes_.ends_with("%%EOF\n"));
    EXPECT_FALSE(pdf_.getTrailer().hasKey("/Encrypt"));
    Object id = pdf_.getTrailer().getKey("/ID");
    ASSERT_TRUE(id.isArray());
    ASSERT_EQ(id.getArrayNItems(), 2);
    EXPECT_FALSE(id.getArrayItem(0).getStringValue().empty());
    EXPECT_TRUE(pdf_.getWarnings().empty());
    // 6.1.7.1: a line end before each "endstream".
    for (std::size_t at = bytes_.find("endstream"); at != std::string::npos;
         at = bytes_.find("endstream", at + 1))
        EXPECT_EQ(bytes_.at(at - 1), '\n') << at;
}

TEST_P(Archive, StaysWithinTheLimitsOfReaders) {  // 6.1.13
    int objects = 0;
    walk([&](Object object) {
        ++objects;
        if (object.isString()) {
            EXPECT_LE(object.getStringValue().size(), 32767u);
        }
        if (object.isName()) {
            EXPECT_LE(object.getName().size(), 128u);
        }
        if (object.isInteger()) {
            EXPECT_LE(std::abs(object.getIntValue()), 2147483647);
        }
    });
    EXPECT_GT(objects, 300);
}

TEST_P(Archive, KeepsEverythingInsideAndNothingThatActs) {  // 6.1.7, 6.3 to 6.5, 6.9 to 6.12
    static const std::set<std::string> filters{"/FlateDecode", "/DCTDecode"};
    static const std::set<std::string> never{"/JS",
                                             "/JavaScript",
                                             "/AA",
                                             "/OpenAction",
                                             "/Launch",
                                             "/AcroForm",
                                             "/OCProperties",
                                             "/NeedsRendering",
                                             "/Requirements",
                                             "/Perms",
                                             "/AlternatePresentations",
                                             "/PresSteps",
                                             "/XFA",
                                             "/Annots",
                                             "/OPI",
                                             "/Ref",
                                             "/Alternates",
                                             "/TR",
                                             "/HTP",
                                             "/HTO",
                                             "/PS",
                                             "/Encrypt"};
    walk([&](Object object) {
        Object dictionary = object.isStream() ? object.getDict() : object;
        if (!dictionary.isDictionary()) return;
        for (const auto& [key, value] : dictionary.ditems()) EXPECT_FALSE(never.contains(key)) << key;
        if (dictionary.getKey("/S").isName()) {
            EXPECT_NE(dictionary.getKey("/S").getName(), "/JavaScript");
            EXPECT_NE(dictionary.getKey("/S").getName(), "/URI");
        }
        if (!object.isStream()) return;
        for (const char* outside : {"/F", "/FFilter", "/FDecodeParms"})
            EXPECT_FALSE(dictionary.hasKey(outside)) << outside;
        Object filter = dictionary.getKey("/Filter");
        if (filter.isName()) {
            EXPECT_TRUE(filters.contains(filter.getName())) << filter.getName();
        }
        if (filter.isArray()) {
            for (Object one : filter.aitems()) EXPECT_TRUE(filters.contains(one.getName())) << one.getName();
        }
        if (dictionary.getKey("/Subtype").isName()) {
            EXPECT_NE(dictionary.getKey("/Subtype").getName(), "/PS");
            if (dictionary.getKey("/Subtype").getName() == "/Image") {
                EXPECT_TRUE(!dictionary.hasKey("/Interpolate") ||
                            !dictionary.getKey("/Interpolate").getBoolValue());
            }
        }
    });
    Object names = pdf_.getRoot().getKey("/Names");
    EXPECT_EQ(names.getKeys(), (std::set<std::string>{"/EmbeddedFiles"}));
    // 6.7: a file that says it is tagged has a tree of tags.
    EXPECT_EQ(pdf_.getRoot().hasKey("/MarkInfo"), pdf_.getRoot().hasKey("/StructTreeRoot"));
}

/// The text between two marks, its XML escapes undone.
std::string between(const std::string& text, const std::string& open, const std::string& close) {
    const std::size_t from = text.find(open);
    EXPECT_NE(from, std::string::npos) << open;
    if (from == std::string::npos) return "";
    const std::size_t begin = from + open.size();
    std::string inside = text.substr(begin, text.find(close, begin) - begin);
    for (const auto& [escape, mark] : std::initializer_list<std::pair<std::string, std::string>>{
             {"&lt;", "<"}, {"&gt;", ">"}, {"&quot;", "\""}, {"&#39;", "'"}, {"&amp;", "&"}})
        for (std::size_t at = inside.find(escape); at != std::string::npos; at = inside.find(escape, at + 1))
            inside.replace(at, escape.size(), mark);
    return inside;
}

/// "D:20261019092653Z" as "2026-10-19T09:26:53Z".
std::string iso_of(const std::string& date) {
    if (date.size() != 17) return date;
    return date.substr(2, 4) + "-" + date.substr(6, 2) + "-" + date.substr(8, 2) + "T" + date.substr(10, 2) +
           ":" + date.substr(12, 2) + ":" + date.substr(14, 3);
}

TEST_P(Archive, SaysWhatItIsInMetadataThatAnyoneCanRead) {  // 6.6
    Object metadata = pdf_.getRoot().getKey("/Metadata");
    ASSERT_TRUE(metadata.isStream());
    EXPECT_EQ(metadata.getDict().getKey("/Type").getName(), "/Metadata");
    EXPECT_EQ(metadata.getDict().getKey("/Subtype").getName(), "/XML");
    EXPECT_FALSE(metadata.getDict().hasKey("/Filter"));
    const std::string xmp = data_of(metadata);
    EXPECT_NE(bytes_.find(xmp.substr(0, 200)), std::string::npos) << "readable without decoding";
    EXPECT_EQ(between(xmp, "<pdfaid:part>", "<"), "3");
    EXPECT_EQ(between(xmp, "<pdfaid:conformance>", "<"), "B");
    EXPECT_NE(xmp.find("http://www.aiim.org/pdfa/ns/id/"), std::string::npos);
    EXPECT_TRUE(xmp.starts_with("<?xpacket begin=\"\xEF\xBB\xBF\" id=\"W5M0MpCehiHzreSzNTczkc9d\"?>"));
    Object info = pdf_.getTrailer().getKey("/Info");
    const auto stated = [&](const char* key) { return info.getKey(key).getUTF8Value(); };
    const std::string first = "<rdf:li xml:lang=\"x-default\">";
    const std::string title = xmp.substr(xmp.find("<dc:title>")),
                      about = xmp.substr(xmp.find("<dc:description>")),
                      author = xmp.substr(xmp.find("<dc:creator>"));
    EXPECT_EQ(between(title, first, "</rdf:li>"), stated("/Title"));
    EXPECT_EQ(between(about, first, "</rdf:li>"), stated("/Subject"));
    EXPECT_EQ(between(author, "<rdf:Seq><rdf:li>", "</rdf:li>"), stated("/Author"));
    EXPECT_EQ(stated("/Author"), "Tern Point & Söhne");
    EXPECT_EQ(between(xmp, "<xmp:CreatorTool>", "<"), stated("/Creator"));
    EXPECT_EQ(between(xmp, "<pdf:Producer>", "<"), stated("/Producer"));
    EXPECT_EQ(between(xmp, "<xmp:CreateDate>", "<"), "2026-10-19T09:26:53Z");
    EXPECT_EQ(iso_of(stated("/CreationDate")), between(xmp, "<xmp:CreateDate>", "<"));
    EXPECT_EQ(iso_of(stated("/ModDate")), between(xmp, "<xmp:ModifyDate>", "<"));
    EXPECT_EQ(info.getKeys(), (std::set<std::string>{"/Title", "/Author", "/Subject", "/Creator", "/Producer",
                                                     "/CreationDate", "/ModDate"}));
}

TEST_P(Archive, GivesItsColoursAMeaning) {  // 6.2.3
    Object intents = pdf_.getRoot().getKey("/OutputIntents");
    ASSERT_TRUE(intents.isArray());
    ASSERT_EQ(intents.getArrayNItems(), 1);
    Object intent = intents.getArrayItem(0);
    EXPECT_EQ(intent.getKey("/Type").getName(), "/OutputIntent");
    EXPECT_EQ(intent.getKey("/S").getName(), "/GTS_PDFA1");
    EXPECT_FALSE(intent.getKey("/OutputConditionIdentifier").getUTF8Value().empty());
    Object profile = intent.getKey("/DestOutputProfile");
    ASSERT_TRUE(profile.isStream());
    EXPECT_EQ(profile.getDict().getKey("/N").getIntValue(), 3);
    const std::string icc = data_of(profile);
    ASSERT_GT(icc.size(), 132u);
    EXPECT_EQ(icc.substr(36, 4), "acsp");
    EXPECT_EQ(icc.substr(16, 4), "RGB ");
    // 6.2.10: transparency only with a colour space to blend in, and by ordinary modes.
    walk([&](Object object) {
        Object dictionary = object.isStream() ? object.getDict() : object;
        if (!dictionary.isDictionary()) return;
        if (Object group = dictionary.getKey("/Group"); group.isDictionary()) {
            EXPECT_TRUE(group.hasKey("/CS"));
        }
        if (Object mode = dictionary.getKey("/BM"); mode.isName()) {
            EXPECT_TRUE(mode.getName() == "/Normal" || mode.getName() == "/Compatible") << mode.getName();
        }
        if (Object transfer = dictionary.getKey("/TR2"); transfer.isName()) {
            EXPECT_EQ(transfer.getName(), "/Default");
        }
    });
}

/// Reads a page's operators: those of ISO 32000-1, annex A, that need no resource beyond fonts and states.
class Operators : public Object::ParserCallbacks {
  public:
    explicit Operators(Object resources) : resources_(resources) {}
    void handleObject(Object object, std::size_t, std::size_t) override {
        if (!object.isOperator()) {
            operands_.push_back(object);
            return;
        }
        static const std::set<std::string> known{
            "BDC", "BMC", "EMC", "b",  "B",  "b*", "B*", "BT", "c",  "cm", "d",  "Do", "ET", "f",
            "f*",  "g",   "G",   "gs", "h",  "i",  "j",  "J",  "l",  "m",  "M",  "n",  "q",  "Q",
            "re",  "rg",  "RG",  "ri", "s",  "S",  "T*", "Tc", "Td", "TD", "Tf", "Tj", "TJ", "TL",
            "Tm",  "Tr",  "Ts",  "Tw", "Tz", "v",  "w",  "W",  "W*", "y",  "'",  "\""};
        const std::string name = object.getOperatorValue();
        EXPECT_TRUE(known.contains(name)) << name;
        if (name == "q") {
            EXPECT_LE(++depth_, 28);
        }
        if (name == "Q") --depth_;
        if (name == "Tf") font_ = resource("/Font");
        if (name == "gs") resource("/ExtGState");
        if (name == "Do") resource("/XObject");
        if (name == "Tj" || name == "'" || name == "\"") shown(operands_.back());
        if (name == "TJ")
            for (Object part : operands_.back().aitems())
                if (part.isString()) shown(part);
        operands_.clear();
    }
    void handleEOF() override { EXPECT_EQ(depth_, 0); }
    int texts = 0;

  private:
    Object resource(const char* kind) {
        const std::string name = operands_.front().getName();
        Object found =
            resources_.getKey(kind).isDictionary() ? resources_.getKey(kind).getKey(name) : Object::newNull();
        EXPECT_TRUE(found.isDictionary() || found.isStream()) << kind << name << " is not the page's own";
        return found;
    }
    /// 6.2.11.8: no glyph that the font lacks.
    void shown(Object text) {
        ++texts;
        ASSERT_TRUE(font_.isDictionary());
        const std::string codes = text.getStringValue();
        const bool two_bytes = font_.getKey("/Subtype").getName() == "/Type0";
        for (std::size_t i = 0; i < codes.size(); i += two_bytes ? 2 : 1)
            EXPECT_FALSE(codes[i] == '\0' && (!two_bytes || codes.at(i + 1) == '\0'))
                << "a glyph is not defined";
    }
    Object resources_, font_;
    std::vector<Object> operands_;
    int depth_ = 0;
};

TEST_P(Archive, DrawsItsPagesWithOrdinaryOperatorsAndItsOwnResources) {  // 6.2.2
    int texts = 0;
    const auto pages = QPDFPageDocumentHelper(pdf_).getAllPages();
    ASSERT_GE(pages.size(), 4u);
    for (QPDFPageObjectHelper page : pages) {
        ASSERT_TRUE(page.getObjectHandle().getKey("/Resources").isDictionary());
        Operators operators(page.getObjectHandle().getKey("/Resources"));
        page.parseContents(&operators);
        texts += operators.texts;
    }
    EXPECT_GT(texts, 200);
}

class FontFace {
  public:
    explicit FontFace(std::string bytes) : bytes_(std::move(bytes)) {
        EXPECT_EQ(FT_Init_FreeType(&library_), 0);
        EXPECT_EQ(FT_New_Memory_Face(library_, reinterpret_cast<const FT_Byte*>(bytes_.data()),
                                     static_cast<FT_Long>(bytes_.size()), 0, &face_),
                  0);
    }
    ~FontFace() {
        FT_Done_Face(face_);
        FT_Done_FreeType(library_);
    }
    FontFace(const FontFace&) = delete;
    FontFace& operator=(const FontFace&) = delete;
    /// In thousandths of the size.
    [[nodiscard]] double advance(FT_UInt glyph) const {
        EXPECT_EQ(FT_Load_Glyph(face_, glyph, FT_LOAD_NO_SCALE), 0);
        return 1000.0 * static_cast<double>(face_->glyph->metrics.horiAdvance) / face_->units_per_EM;
    }
    [[nodiscard]] FT_UInt glyph_of(FT_ULong character) const { return FT_Get_Char_Index(face_, character); }
    [[nodiscard]] long glyphs() const { return face_->num_glyphs; }

  private:
    std::string bytes_;
    FT_Library library_ = nullptr;
    FT_Face face_ = nullptr;
};

TEST_P(Archive, BringsItsFontsWithWidthsThatAreTheirs) {  // 6.2.11
    int simple = 0, composite = 0, compared = 0;
    walk([&](Object font) {
        if (!font.isDictionary() || !font.getKey("/Type").isName() ||
            font.getKey("/Type").getName() != "/Font")
            return;
        const std::string kind = font.getKey("/Subtype").getName();
        if (kind == "/Type0") {
            ++composite;
            EXPECT_TRUE(font.getKey("/ToUnicode").isStream());
            EXPECT_EQ(font.getKey("/Encoding").getName(), "/Identity-H");
            EXPECT_EQ(font.getKey("/DescendantFonts").getArrayNItems(), 1);
            return;
        }
        Object descriptor = font.getKey("/FontDescriptor");
        ASSERT_TRUE(descriptor.isDictionary());
        // Lists of a subset's glyphs must be complete where they are; without one nothing can be amiss.
        EXPECT_FALSE(descriptor.hasKey("/CIDSet"));
        EXPECT_FALSE(descriptor.hasKey("/CharSet"));
        EXPECT_EQ(descriptor.getKey("/FontName").getName(), font.getKey("/BaseFont").getName());
        Object program;
        for (const char* key : {"/FontFile", "/FontFile2", "/FontFile3"})
            if (descriptor.getKey(key).isStream()) program = descriptor.getKey(key);
        ASSERT_TRUE(program.isStream()) << "every font is embedded";
        const FontFace face(data_of(program));
        if (kind == "/CIDFontType0") {
            EXPECT_EQ(font.getKey("/CIDSystemInfo").getKey("/Registry").getUTF8Value(), "Adobe");
            EXPECT_EQ(font.getKey("/CIDSystemInfo").getKey("/Ordering").getUTF8Value(), "Identity");
            Object widths = font.getKey("/W");
            ASSERT_EQ(widths.getArrayNItems(), 2) << "one stretch from the first glyph on";
            EXPECT_EQ(widths.getArrayItem(0).getIntValue(), 0);
            Object list = widths.getArrayItem(1);
            EXPECT_EQ(list.getArrayNItems(), face.glyphs());
            for (int i = 0; i < list.getArrayNItems(); ++i, ++compared)
                EXPECT_NEAR(list.getArrayItem(i).getNumericValue(), face.advance(static_cast<FT_UInt>(i)),
                            1.0)
                    << i;
            return;
        }
        ++simple;
        EXPECT_EQ(kind, "/Type1");
        EXPECT_TRUE(font.getKey("/ToUnicode").isStream());
        EXPECT_EQ(font.getKey("/Encoding").getName(), "/WinAnsiEncoding");
        const long long first = font.getKey("/FirstChar").getIntValue(),
                        last = font.getKey("/LastChar").getIntValue();
        Object widths = font.getKey("/Widths");
        ASSERT_EQ(widths.getArrayNItems(), last - first + 1);
        for (long long code = first; code <= std::min<long long>(last, 126); ++code) {
            const double width = widths.getArrayItem(static_cast<int>(code - first)).getNumericValue();
            const FT_UInt glyph = face.glyph_of(static_cast<FT_ULong>(code));
            if (width == 0 || glyph == 0) continue;  // not in the subset
            EXPECT_NEAR(width, face.advance(glyph), 1.0) << code;
            ++compared;
        }
    });
    EXPECT_GE(simple, 1);
    EXPECT_GE(composite, 1);
    EXPECT_GT(compared, 100);
}

TEST_P(Archive, SaysOfEachFileWhatItIs) {  // 6.8
    static const std::set<std::string> relations{"/Source", "/Data", "/Alternative", "/Supplement",
                                                 "/Unspecified"};
    std::set<QPDFObjGen> associated, specifications;
    Object list = pdf_.getRoot().getKey("/AF");
    ASSERT_TRUE(list.isArray());
    for (Object file : list.aitems()) {
        ASSERT_TRUE(file.isIndirect());
        associated.insert(file.getObjGen());
    }
    walk([&](Object file) {
        if (!file.isDictionary() || !file.hasKey("/EF")) return;
        specifications.insert(file.getObjGen());
        EXPECT_EQ(file.getKey("/Type").getName(), "/Filespec");
        EXPECT_FALSE(file.getKey("/F").getStringValue().empty());
        EXPECT_EQ(file.getKey("/F").getUTF8Value(), file.getKey("/UF").getUTF8Value());
        EXPECT_TRUE(relations.contains(file.getKey("/AFRelationship").getName()));
        Object stream = file.getKey("/EF").getKey("/F");
        ASSERT_TRUE(stream.isStream());
        EXPECT_EQ(stream.getDict().getKey("/Type").getName(), "/EmbeddedFile");
        EXPECT_NE(stream.getDict().getKey("/Subtype").getName().find('/', 1), std::string::npos)
            << "a media type";
        Object parameters = stream.getDict().getKey("/Params");
        EXPECT_EQ(parameters.getKey("/ModDate").getUTF8Value(), "D:20261019092653Z");
        EXPECT_EQ(static_cast<std::size_t>(parameters.getKey("/Size").getIntValue()), data_of(stream).size());
    });
    EXPECT_EQ(specifications, associated);
    EXPECT_EQ(specifications.size(), invented_report().attachments.size());
}

INSTANTIATE_TEST_SUITE_P(OnPaper, Archive, ::testing::Values(report::Paper::a4, report::Paper::letter),
                         [](const auto& one) { return one.param == report::Paper::a4 ? "A4" : "Letter"; });

}  // namespace
