# cmake -DFILES=methods/*.toml -DHEADER=paperwork/shipped_files.hpp -DTYPE=ShippedFile -DOUTPUT=FILE.cpp -P embed_texts.cmake
# Turns files into one source file, so that the program carries them and they stay readable on their own. The header
# FOLDER/NAMES.hpp declares names(), which gives a list of TYPE{id, text} in namespace FOLDER.

string(REGEX MATCH "^([a-z]+)/([a-z]+_files)\\.hpp$" _ ${HEADER})
set(folder ${CMAKE_MATCH_1})
set(function ${CMAKE_MATCH_2})
file(GLOB files ${FILES})
list(SORT files)
set(rows "")
foreach(file IN LISTS files)
  get_filename_component(id ${file} NAME_WE)
  file(READ ${file} text)
  string(APPEND rows "    {\"${id}\", R\"built_in(${text})built_in\"},\n")
endforeach()
file(WRITE ${OUTPUT}.new "// Made from ${FILES} by cmake/embed_texts.cmake.

#include \"${HEADER}\"

namespace ebbtide::${folder} {

const std::vector<${TYPE}>& ${function}() {
  static const std::vector<${TYPE}> files{
${rows}  };
  return files;
}

}  // namespace ebbtide::${folder}
")
file(RENAME ${OUTPUT}.new ${OUTPUT})
