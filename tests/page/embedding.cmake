# cmake -DROOT=FOLDER -DSCRATCH=FOLDER -P embedding.cmake
# The page is built in from a bundle; a program whose page cannot be bundled is built without it, never with an old one.

set(web ${SCRATCH}/web)
set(bundle ${SCRATCH}/bundle)
set(output ${SCRATCH}/generated/page_files.cpp)
file(REMOVE_RECURSE ${SCRATCH})
file(WRITE ${web}/package-lock.json "{}")

# A node that bundles, and an npm that ends as FILE says.
file(WRITE ${SCRATCH}/node "#!/bin/sh\nmkdir -p $2 && echo '<p>bundled</p>' >$2/index.html\n")
file(WRITE ${SCRATCH}/npm "#!/bin/sh\nexit $(cat ${SCRATCH}/npm_ends)\n")
file(CHMOD ${SCRATCH}/node ${SCRATCH}/npm PERMISSIONS OWNER_READ OWNER_WRITE OWNER_EXECUTE)

# embed(NPM_ENDS WITH_PAGE [-DWEB=..]): the build goes on, with or without the page.
function(embed npm_ends with_page)
  file(WRITE ${SCRATCH}/npm_ends ${npm_ends})
  execute_process(COMMAND ${CMAKE_COMMAND} -DNODE=${SCRATCH}/node -DNPM=${SCRATCH}/npm ${ARGN} -DBUNDLE=${bundle} -DOUTPUT=${output}
    -P ${ROOT}/cmake/embed_page.cmake RESULT_VARIABLE failed ERROR_VARIABLE said)
  if(failed)
    message(SEND_ERROR "npm ending with ${npm_ends} ends the build:\n${said}")
  endif()
  file(READ ${output} text)
  string(FIND "${text}" "<p>bundled</p>" at)
  if(with_page AND at EQUAL -1)
    message(SEND_ERROR "the page is not built in")
  elseif(NOT with_page AND NOT at EQUAL -1)
    message(SEND_ERROR "a page is built in that was not bundled now")
  endif()
  if(ARGN AND NOT with_page AND NOT (EXISTS ${output}.again AND said MATCHES "without its page"))
    message(SEND_ERROR "nobody hears that npm failed")
  endif()
endfunction()

embed(1 FALSE -DWEB=${web})
embed(0 TRUE -DWEB=${web})
if(EXISTS ${output}.again)
  message(SEND_ERROR "what has worked is done again")
endif()
# A bundle that came with the sources needs neither.
embed(1 TRUE)
embed(1 FALSE -DWEB=${web})
embed(nowhere FALSE -DWEB=${web})
embed(0 FALSE)
