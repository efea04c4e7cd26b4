#include "report/pdf_archive.hpp"

#include <fmt/format.h>

// qpdf asks its users to say that they no longer use its old pointer class.
#define POINTERHOLDER_TRANSITION 4

#include <qpdf/QPDF.hh>

#include "report/html_writer.hpp"
#include "report/icc_profile.hpp"
#include "report/printable_text.hpp"

namespace ebbtide::report {
namespace {

using Object = QPDFObjectHandle;

Instant whole_seconds(Instant instant) {
    return {instant.ns - instant.ns % 1'000'000'000};
}

/// In the file's list and in XMP alike: a reader that finds them different believes neither.
std::string title_of(const Document& document) {
    return document.id_and_revision + ", " + document.title;
}

Object text(const std::string& utf8) {
    return Object::newUnicodeString(printable(utf8));
}

Object properties_of(const Document& document) {
    auto info = Object::newDictionary();
    info.replaceKey("/Title", text(title_of(document)));
    info.replaceKey("/Author", text(document.laboratory));
    info.replaceKey("/Subject", text(document.subject));
    info.replaceKey("/Creator", text(document.program));
    info.replaceKey("/Producer", text(document.program));
    info.replaceKey("/CreationDate", Object::newString(pdf_date(document.made)));
    info.replaceKey("/ModDate", Object::newString(pdf_date(document.made)));
    return info;
}

Object output_intent(QPDF& pdf) {
    auto profile = Object::newStream(&pdf, srgb_profile());
    profile.getDict().replaceKey("/N", Object::newInteger(3));
    auto intent = Object::newDictionary();
    intent.replaceKey("/Type", Object::newName("/OutputIntent"));
    intent.replaceKey("/S", Object::newName("/GTS_PDFA1"));
    intent.replaceKey("/OutputConditionIdentifier", Object::newString("sRGB"));
    intent.replaceKey("/Info", Object::newString("sRGB of IEC 61966-2-1"));
    intent.replaceKey("/DestOutputProfile", profile);
    return pdf.makeIndirectObject(intent);
}

}  // namespace

std::string pdf_date(Instant instant) {
    std::string digits;
    for (const char c : iso_text(whole_seconds(instant)).substr(0, 19))
        if (c >= '0' && c <= '9') digits += c;
    return "D:" + digits + "Z";
}

std::string metadata_of(const Document& document) {
    const std::string made = iso_text(whole_seconds(document.made));
    return fmt::format(R"xml(<?xpacket begin="{}" id="W5M0MpCehiHzreSzNTczkc9d"?>
<x:xmpmeta xmlns:x="adobe:ns:meta/">
<rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#">
<rdf:Description rdf:about="" xmlns:pdfaid="http://www.aiim.org/pdfa/ns/id/" xmlns:dc="http://purl.org/dc/elements/1.1/" xmlns:xmp="http://ns.adobe.com/xap/1.0/" xmlns:pdf="http://ns.adobe.com/pdf/1.3/">
<pdfaid:part>3</pdfaid:part>
<pdfaid:conformance>B</pdfaid:conformance>
<dc:format>application/pdf</dc:format>
<dc:title><rdf:Alt><rdf:li xml:lang="x-default">{}</rdf:li></rdf:Alt></dc:title>
<dc:description><rdf:Alt><rdf:li xml:lang="x-default">{}</rdf:li></rdf:Alt></dc:description>
<dc:creator><rdf:Seq><rdf:li>{}</rdf:li></rdf:Seq></dc:creator>
<dc:language><rdf:Bag><rdf:li>en</rdf:li></rdf:Bag></dc:language>
<dc:identifier>{}</dc:identifier>
<xmp:CreateDate>{}</xmp:CreateDate>
<xmp:ModifyDate>{}</xmp:ModifyDate>
<xmp:CreatorTool>{}</xmp:CreatorTool>
<pdf:Producer>{}</pdf:Producer>
</rdf:Description>
</rdf:RDF>
</x:xmpmeta>
<?xpacket end="w"?>
)xml",
                       "\xEF\xBB\xBF", escaped(title_of(document)), escaped(document.subject),
                       escaped(document.laboratory), escaped(document.id_and_revision), made, made,
                       escaped(document.program), escaped(document.program));
}

void make_archivable(QPDF& pdf, const Document& document) {
    pdf.getTrailer().replaceKey("/Info", pdf.makeIndirectObject(properties_of(document)));
    auto root = pdf.getRoot();
    root.replaceKey("/Lang", Object::newString("en"));
    auto preferences = Object::newDictionary();
    preferences.replaceKey("/DisplayDocTitle", Object::newBool(true));
    root.replaceKey("/ViewerPreferences", preferences);
    auto metadata = Object::newStream(&pdf, metadata_of(document));
    metadata.getDict().replaceKey("/Type", Object::newName("/Metadata"));
    metadata.getDict().replaceKey("/Subtype", Object::newName("/XML"));
    root.replaceKey("/Metadata", metadata);
    auto intents = Object::newArray();
    intents.appendItem(output_intent(pdf));
    root.replaceKey("/OutputIntents", intents);
}

}  // namespace ebbtide::report
