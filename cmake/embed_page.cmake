# cmake [-DNODE=.. -DNPM=.. -DWEB=..] -DBUNDLE=FOLDER -DOUTPUT=FILE.cpp -P embed_page.cmake
# Bundles WEB into BUNDLE where WEB is named, then writes the files of BUNDLE as server::page_files(). No bundle: an empty list, and
# OUTPUT.again where npm was to blame, so that the next configuration lets it try again.

file(REMOVE ${OUTPUT}.again)
if(WEB)
  # What was bundled before would be taken for the page.
  file(REMOVE_RECURSE ${BUNDLE})
  # What the lock file names is fetched once; a later change of it fetches again.
  if(NOT EXISTS ${WEB}/node_modules/.package-lock.json OR ${WEB}/package-lock.json IS_NEWER_THAN ${WEB}/node_modules/.package-lock.json)
    execute_process(COMMAND ${NPM} ci --ignore-scripts WORKING_DIRECTORY ${WEB} RESULT_VARIABLE failed OUTPUT_QUIET)
    if(failed)
      message(WARNING "npm ci failed: the program is built without its page")
      file(WRITE ${OUTPUT}.again "")
    endif()
  endif()
  if(NOT failed)
    execute_process(COMMAND ${NODE} build.mjs ${BUNDLE} WORKING_DIRECTORY ${WEB} RESULT_VARIABLE failed)
    if(failed)
      message(FATAL_ERROR "the page does not bundle")
    endif()
  endif()
endif()

set(type_html "text/html; charset=utf-8")
set(type_js "text/javascript; charset=utf-8")
set(type_css "text/css; charset=utf-8")
set(rows "")
foreach(name IN ITEMS index.html page.css page.js)
  if(EXISTS ${BUNDLE}/${name})
    get_filename_component(kind ${name} LAST_EXT)
    string(SUBSTRING ${kind} 1 -1 kind)
    set(path /${name})
    if(name STREQUAL index.html)
      set(path /)
    endif()
    file(READ ${BUNDLE}/${name} text)
    string(APPEND rows "    {\"${path}\", \"${type_${kind}}\", R\"built_in(${text})built_in\"},\n")
  endif()
endforeach()
file(WRITE ${OUTPUT}.new "// Made from the bundle of web/ by cmake/embed_page.cmake.

#include \"server/page_files.hpp\"

namespace ebbtide::server {

const std::vector<PageFile>& page_files() {
  static const std::vector<PageFile> files{
${rows}  };
  return files;
}

}  // namespace ebbtide::server
")
file(RENAME ${OUTPUT}.new ${OUTPUT})
