# Turns layers.txt into libraries: one static library a folder, linked to every folder on a lower row.

add_custom_target(check_layers
  COMMAND ${CMAKE_COMMAND} -DROOT=${PROJECT_SOURCE_DIR} -P ${PROJECT_SOURCE_DIR}/cmake/check_layers.cmake
  COMMENT "Checking that includes run downward")

# Folders in which no two files use one name for different things: eight of them at a time take as long to compile as one and a
# half. The usual build compiles each alone, so that each names all it includes.
set(compiled_together basis trace sheet plan decay judge record recording paperwork ledger report transport bench work server cli)
# Folders that read, write and keep: under sanitizers they take longer to compile than to run. Numerics are optimised there too.
set(quickly_run record recording paperwork ledger report work server cli)

function(ebbtide_compile_together target)
  set_target_properties(${target} PROPERTIES UNITY_BUILD ON UNITY_BUILD_BATCH_SIZE 8)
  # Warnings are the usual build's: here they would be of one file's names beside another's.
  target_compile_options(${target} PRIVATE -w)
endfunction()

function(ebbtide_add_layers)
  set(layers_file ${PROJECT_SOURCE_DIR}/layers.txt)
  set_property(DIRECTORY APPEND PROPERTY CMAKE_CONFIGURE_DEPENDS ${layers_file})
  file(STRINGS ${layers_file} lines REGEX "^[0-9]")
  set(seen "")
  foreach(line IN LISTS lines)
    string(REGEX REPLACE " +" ";" words "${line}")
    list(POP_FRONT words row folder)
    file(GLOB sources CONFIGURE_DEPENDS ${PROJECT_SOURCE_DIR}/src/${folder}/*.cpp)
    list(FILTER sources EXCLUDE REGEX "/main\\.cpp$")
    set(library ebbtide_${folder})
    if(sources)
      set(scope PUBLIC)
      add_library(${library} STATIC ${sources})
      if(EBBTIDE_TOGETHER AND folder IN_LIST compiled_together)
        ebbtide_compile_together(${library})
      endif()
      if(EBBTIDE_SANITIZE AND folder IN_LIST quickly_run)
        target_compile_options(${library} PRIVATE -O0)
      endif()
    else()
      set(scope INTERFACE)
      add_library(${library} INTERFACE)
    endif()
    target_include_directories(${library} ${scope} ${PROJECT_SOURCE_DIR}/src)
    foreach(lower IN LISTS seen)
      if(lower MATCHES "^([0-9]+)/(.+)$" AND CMAKE_MATCH_1 LESS row)
        target_link_libraries(${library} ${scope} ebbtide_${CMAKE_MATCH_2})
      endif()
    endforeach()
    foreach(outside IN LISTS words)
      if(outside)
        target_link_libraries(${library} ${scope} ${outside})
      endif()
    endforeach()
    add_dependencies(${library} check_layers)
    list(APPEND seen "${row}/${folder}")
  endforeach()
endfunction()
