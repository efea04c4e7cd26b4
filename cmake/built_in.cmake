# Builds files into the libraries that hand them out.

function(ebbtide_build_in library pattern header type)
  file(GLOB files CONFIGURE_DEPENDS ${PROJECT_SOURCE_DIR}/${pattern})
  get_filename_component(name ${header} NAME_WE)
  set(source ${PROJECT_BINARY_DIR}/generated/${name}.cpp)
  add_custom_command(OUTPUT ${source}
    COMMAND ${CMAKE_COMMAND} "-DFILES=${PROJECT_SOURCE_DIR}/${pattern}" -DHEADER=${header} -DTYPE=${type} -DOUTPUT=${source}
            -P ${PROJECT_SOURCE_DIR}/cmake/embed_texts.cmake
    DEPENDS ${files} ${PROJECT_SOURCE_DIR}/cmake/embed_texts.cmake
    COMMENT "Building in ${pattern}"
    VERBATIM)
  target_sources(${library} PRIVATE ${source})
endfunction()

ebbtide_build_in(ebbtide_paperwork methods/*.toml paperwork/shipped_files.hpp ShippedFile)
ebbtide_build_in(ebbtide_server src/server/openapi.json server/api_files.hpp ApiFile)
ebbtide_build_in(ebbtide_validation src/validation/nist/*.dat validation/nist_files.hpp NistFile)
