# cmake -DFOLDER=methods -DOUTPUT=FILE.cpp -P embed_shipped.cmake: turns the TOML files of a folder into one
# source file, so that the program carries them and the files stay readable on their own.

file(GLOB files ${FOLDER}/*.toml)
list(SORT files)
set(rows "")
foreach(file IN LISTS files)
  get_filename_component(id ${file} NAME_WE)
  file(READ ${file} text)
  # The kind stands in the schema line of the file itself.
  string(APPEND rows "    {\"${id}\", R\"shipped(${text})shipped\"},\n")
endforeach()
file(WRITE ${OUTPUT}.new "// Made from ${FOLDER} by cmake/embed_shipped.cmake.

#include \"paperwork/shipped_files.hpp\"

namespace ebbtide::paperwork {

const std::vector<ShippedFile>& shipped_files() {
  static const std::vector<ShippedFile> files{
${rows}  };
  return files;
}

}  // namespace ebbtide::paperwork
")
file(RENAME ${OUTPUT}.new ${OUTPUT})
