# Builds methods/*.toml into the paperwork library.

file(GLOB shipped_toml CONFIGURE_DEPENDS ${PROJECT_SOURCE_DIR}/methods/*.toml)
set(shipped_source ${PROJECT_BINARY_DIR}/generated/shipped_files.cpp)
add_custom_command(OUTPUT ${shipped_source}
  COMMAND ${CMAKE_COMMAND} -DFOLDER=${PROJECT_SOURCE_DIR}/methods -DOUTPUT=${shipped_source}
          -P ${PROJECT_SOURCE_DIR}/cmake/embed_shipped.cmake
  DEPENDS ${shipped_toml} ${PROJECT_SOURCE_DIR}/cmake/embed_shipped.cmake
  COMMENT "Embedding the shipped methods and specifications")
target_sources(ebbtide_paperwork PRIVATE ${shipped_source})
