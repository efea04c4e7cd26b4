# Bundles web/ and builds it into the server. Where node and npm are missing, a bundle that came with the sources (web/bundle) is
# taken; without one the program builds all the same, and says where the page would be how to get it.

option(EBBTIDE_PAGE "Bundle the page, where node and npm are there" ON)
find_program(NODE node)
find_program(NPM npm)

set(page_source ${PROJECT_BINARY_DIR}/generated/page_files.cpp)
set(page_bundle ${PROJECT_SOURCE_DIR}/web/bundle)
set(page_parts "")
if(EXISTS ${page_source}.again)
  file(REMOVE ${page_source})
endif()
if(EBBTIDE_PAGE AND NODE AND NPM AND NOT EBBTIDE_SANITIZE AND NOT EBBTIDE_FUZZ)
  set(page_bundle ${PROJECT_BINARY_DIR}/page)
  file(GLOB_RECURSE page_parts CONFIGURE_DEPENDS ${PROJECT_SOURCE_DIR}/web/src/*.ts ${PROJECT_SOURCE_DIR}/web/src/*.css)
  list(APPEND page_parts ${PROJECT_SOURCE_DIR}/web/index.html ${PROJECT_SOURCE_DIR}/web/build.mjs
    ${PROJECT_SOURCE_DIR}/web/package-lock.json)
  set(bundle_page -DNODE=${NODE} -DNPM=${NPM} -DWEB=${PROJECT_SOURCE_DIR}/web)
endif()
add_custom_command(OUTPUT ${page_source}
  COMMAND ${CMAKE_COMMAND} ${bundle_page} -DBUNDLE=${page_bundle} -DOUTPUT=${page_source}
          -P ${PROJECT_SOURCE_DIR}/cmake/embed_page.cmake
  DEPENDS ${page_parts} ${PROJECT_SOURCE_DIR}/cmake/embed_page.cmake
  COMMENT "Building in the page"
  VERBATIM)
target_sources(ebbtide_server PRIVATE ${page_source})
